//! A file dropped on a window: the source's side of XDND version 5, as the freedesktop
//! specification has it.

use std::path::Path;
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    Atom, AtomEnum, ClientMessageEvent, ConnectionExt, CreateWindowAux, EventMask, PropMode,
    SelectionNotifyEvent, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// The protocol's version.
const VERSION: u32 = 5;
/// How long the window may take to answer.
const PATIENCE: Duration = Duration::from_secs(60);

/// One who drags a file.
struct Source {
    display: RustConnection,
    window: u32,
    target: u32,
    uri: String,
}

/// Drags `file` over the window `target` of a display and lets it go there at `(x, y)`.
pub fn drop_file(display: &str, target: u32, file: &Path, (x, y): (i64, i64)) {
    let (connection, screen) = RustConnection::connect(Some(display)).unwrap();
    let window = connection.generate_id().unwrap();
    let screen = &connection.setup().roots[screen];
    let (root, visual) = (screen.root, screen.root_visual);
    let made = connection.create_window(
        0,
        window,
        root,
        0,
        0,
        1,
        1,
        0,
        WindowClass::INPUT_OUTPUT,
        visual,
        &CreateWindowAux::new(),
    );
    made.unwrap().check().unwrap();
    let source = Source {
        display: connection,
        window,
        target,
        uri: format!("file://{}\r\n", file.display()),
    };
    let (selection, list) = (source.atom("XdndSelection"), source.atom("text/uri-list"));
    let owned = source
        .display
        .set_selection_owner(window, selection, x11rb::CURRENT_TIME);
    owned.unwrap().check().unwrap();
    source.send("XdndEnter", [VERSION << 24, list, 0, 0]);
    let at = (x as u32) << 16 | y as u32;
    let copy = source.atom("XdndActionCopy");
    source.send("XdndPosition", [0, at, x11rb::CURRENT_TIME, copy]);
    let status = source.serve_until("XdndStatus");
    assert_eq!(status[1] & 1, 1, "the window takes files");
    source.send("XdndDrop", [0, x11rb::CURRENT_TIME, 0, 0]);
    source.serve_until("XdndFinished");
}

impl Source {
    fn atom(&self, name: &str) -> Atom {
        let asked = self.display.intern_atom(false, name.as_bytes()).unwrap();
        asked.reply().unwrap().atom
    }

    /// A message to the target; its first number is the source's own window.
    fn send(&self, name: &str, [a, b, c, d]: [u32; 4]) {
        let data = [self.window, a, b, c, d];
        let message = ClientMessageEvent::new(32, self.target, self.atom(name), data);
        let sent = self
            .display
            .send_event(false, self.target, EventMask::NO_EVENT, message);
        sent.unwrap().check().unwrap();
    }

    /// Gives out the file's name to whoever asks, until a message comes; its numbers.
    fn serve_until(&self, name: &str) -> [u32; 5] {
        let wanted = self.atom(name);
        let begun = Instant::now();
        loop {
            match self.display.poll_for_event().unwrap() {
                Some(Event::SelectionRequest(asked)) => {
                    let told = self.display.change_property8(
                        PropMode::REPLACE,
                        asked.requestor,
                        asked.property,
                        asked.target,
                        self.uri.as_bytes(),
                    );
                    told.unwrap().check().unwrap();
                    let answer = SelectionNotifyEvent {
                        response_type: x11rb::protocol::xproto::SELECTION_NOTIFY_EVENT,
                        sequence: 0,
                        time: asked.time,
                        requestor: asked.requestor,
                        selection: asked.selection,
                        target: asked.target,
                        property: asked.property,
                    };
                    let sent = self.display.send_event(
                        false,
                        asked.requestor,
                        EventMask::NO_EVENT,
                        answer,
                    );
                    sent.unwrap().check().unwrap();
                }
                Some(Event::ClientMessage(message)) if message.type_ == wanted => {
                    return message.data.as_data32();
                }
                Some(_) => {}
                None => std::thread::sleep(Duration::from_millis(20)),
            }
            assert!(begun.elapsed() < PATIENCE, "waited in vain for {name}");
        }
    }
}

/// Whether a window says that files may be dropped on it.
pub fn takes_files(display: &str, target: u32) -> bool {
    let (connection, _) = RustConnection::connect(Some(display)).unwrap();
    let aware = connection.intern_atom(false, b"XdndAware").unwrap();
    let aware = aware.reply().unwrap().atom;
    let asked = connection.get_property(false, target, aware, AtomEnum::ANY, 0, 1);
    asked.unwrap().reply().unwrap().value_len > 0
}
