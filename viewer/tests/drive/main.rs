//! The window as a user drives it: a real one, on a display of its own, with pointer and
//! keys. Needs Xvfb, xdotool and a Vulkan driver; where they are missing the test fails
//! and says what to install.

#[cfg(target_os = "linux")]
mod drop;

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What the tests need of the system, by the names that Debian has for it.
const INSTALL: &str = "apt-get install -y mesa-vulkan-drivers xvfb xdotool";
/// How long anything may take, software rendering and an unoptimized build included.
const PATIENCE: Duration = Duration::from_secs(90);
/// Pictures after which what was done has been taken in and shows.
const PICTURES: u64 = 3;
/// Size of the display and the window on it.
const SIZE: &str = "1600x1000";

/// A display of our own and the program on it; both end with the test.
struct Window {
    display: String,
    _program: Ending,
    /// Ends after the program that draws on it.
    _server: Ending,
    tells: PathBuf,
    folder: tempfile::TempDir,
}

impl Window {
    fn open(job: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("job.json"), job).unwrap();
        let (server, display) = server(folder.path());
        let tells = folder.path().join("tells.json");
        let begun = Command::new(env!("CARGO_BIN_EXE_runwright-bench"))
            .current_dir(folder.path())
            .args(["job.json", "--size", SIZE, "--tell", "tells.json"])
            .env("DISPLAY", &display)
            .env_remove("WAYLAND_DISPLAY")
            .env("XDG_RUNTIME_DIR", folder.path())
            .spawn();
        let program = Ending(begun.unwrap());
        let window = Self {
            display,
            _program: program,
            tells,
            folder,
            _server: server,
        };
        // There is no window manager that would.
        window.tool(&[
            "search",
            "--sync",
            "--name",
            "Runwright bench",
            "windowfocus",
        ]);
        window.until("the first plan", |told| {
            told["pieces"].as_u64().is_some()
                && told["busy"] == false
                && told["picture"].as_u64() > Some(PICTURES)
        });
        window
    }

    /// Its number on the display.
    fn id(&self) -> u32 {
        let found = Command::new("xdotool")
            .args(["search", "--name", "Runwright bench"])
            .env("DISPLAY", &self.display)
            .output()
            .unwrap();
        let text = String::from_utf8_lossy(&found.stdout).into_owned();
        text.trim().lines().last().unwrap().parse().unwrap()
    }

    fn told(&self) -> Value {
        let text = fs::read(&self.tells).unwrap_or_default();
        serde_json::from_slice(&text).unwrap_or(Value::Null)
    }

    /// Waits until what is told is as asked.
    fn until(&self, what: &str, is_so: impl Fn(&Value) -> bool) -> Value {
        let begun = Instant::now();
        loop {
            let told = self.told();
            if is_so(&told) {
                return told;
            }
            assert!(
                begun.elapsed() < PATIENCE,
                "waited in vain for {what}; last told: {told:#}"
            );
            std::thread::sleep(Duration::from_millis(60));
        }
    }

    fn tool(&self, arguments: &[&str]) {
        let done = Command::new("xdotool")
            .args(arguments)
            .env("DISPLAY", &self.display)
            .status();
        let done = done.unwrap_or_else(|error| panic!("xdotool: {error}; install it: {INSTALL}"));
        assert!(done.success(), "xdotool {arguments:?}");
        // Until it has been taken in and drawn.
        let drawn = |told: &Value| told["picture"].as_u64().unwrap_or(0);
        let now = drawn(&self.told());
        self.until("another picture", |told| drawn(told) >= now + PICTURES);
    }

    /// The middle of something that was marked.
    fn place(&self, mark: &str) -> (i64, i64) {
        // Where it has come to rest: dialogs find their size in a picture or two.
        let mut told = self.until(mark, |told| !told["marks"][mark].is_null());
        loop {
            let before = told["marks"][mark].clone();
            let seen = told["picture"].as_u64().unwrap_or(0);
            told = self.until(mark, |told| {
                told["picture"].as_u64() > Some(seen + 1) && !told["marks"][mark].is_null()
            });
            if told["marks"][mark] == before {
                break;
            }
        }
        let part = |i: usize| told["marks"][mark][i].as_f64().unwrap();
        (
            (part(0) + part(2) / 2.0) as i64,
            (part(1) + part(3) / 2.0) as i64,
        )
    }

    fn point(&self, (x, y): (i64, i64)) {
        self.tool(&["mousemove", &x.to_string(), &y.to_string()]);
    }

    fn click_at(&self, place: (i64, i64)) {
        self.point(place);
        self.tool(&["mousedown", "1"]);
        self.tool(&["mouseup", "1"]);
    }

    fn click(&self, mark: &str) {
        self.click_at(self.place(mark));
    }

    fn drag(&self, from: (i64, i64), to: (i64, i64)) {
        self.point(from);
        self.tool(&["mousedown", "1"]);
        for i in 1..=4 {
            self.point((
                from.0 + (to.0 - from.0) * i / 4,
                from.1 + (to.1 - from.1) * i / 4,
            ));
        }
        self.tool(&["mouseup", "1"]);
    }

    /// Puts a text into a field in place of what is there.
    fn write(&self, mark: &str, text: &str) {
        self.click(mark);
        self.tool(&["type", "--delay", "40", text]);
        self.tool(&["key", "Return"]);
    }

    fn job(&self) -> String {
        fs::read_to_string(self.folder.path().join("job.json")).unwrap()
    }
}

/// A program that ends with its owner.
struct Ending(Child);

impl Drop for Ending {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A display that nobody else has.
fn server(folder: &Path) -> (Ending, String) {
    let number = folder.join("display");
    let out = fs::File::create(&number).unwrap();
    let begun = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", &format!("{SIZE}x24")])
        .args(["-nolisten", "tcp"])
        .stdout(out)
        .stderr(Stdio::null())
        .spawn();
    let server = match begun {
        Ok(server) => Ending(server),
        Err(error) => panic!("Xvfb: {error}; install it: {INSTALL}"),
    };
    let begun = Instant::now();
    loop {
        let text = fs::read_to_string(&number).unwrap_or_default();
        if text.ends_with('\n') {
            return (server, format!(":{}", text.trim()));
        }
        assert!(
            begun.elapsed() < PATIENCE,
            "Xvfb does not start; install it: {INSTALL}"
        );
        std::thread::sleep(Duration::from_millis(50));
    }
}

const STACK: &str = include_str!("../../../examples/stack.json");

#[test]
fn edit_plan_choose_step_and_save() {
    let window = Window::open(STACK);
    let before = window.told();

    // A field takes a shop fraction, and the run is planned again.
    window.write("field runs[0].clr", "4 1/4 in");
    let told = window.until("a new plan", |told| {
        told["dirty"] == true && told["stale"] == false && told["busy"] == false
    });
    assert_ne!(told["length_mm"], before["length_mm"]);
    assert_eq!(window.job(), STACK, "nothing is saved unasked");

    // What is wrong stands at its field; undo puts it right.
    window.write("field tube.wall", "thick");
    window.until("the problem", |told| {
        told["problems"]
            .as_array()
            .is_some_and(|list| !list.is_empty())
    });
    window.click("undo");
    window.until("no problem", |told| {
        told["problems"].as_array().is_some_and(Vec::is_empty) && told["stale"] == false
    });

    // A piece is chosen in the picture, then in the list.
    window.click("in picture 4");
    window.until("piece 4", |told| told["piece"] == 4);
    window.click("piece 2");
    window.until("piece 2", |told| told["piece"] == 2);

    // The picture is turned, and seen from a side.
    let eye = window.told()["eye"].clone();
    let (x, y) = window.place("picture");
    window.drag((x - 150, y + 160), (x - 60, y + 120));
    window.until("another view", |told| told["eye"][0] != eye[0]);
    window.click("side top");
    window.until("the top", |told| {
        (told["eye"][1].as_f64().unwrap() - std::f64::consts::FRAC_PI_2).abs() < 1e-6
    });

    // Building goes forth and back.
    window.click("to-build");
    window.until("step 1", |told| told["step"] == 1);
    window.click("next");
    window.click("next");
    window.until("step 3", |told| told["step"] == 3);
    window.click("back");
    window.tool(&["key", "Right"]);
    window.tool(&["key", "Left"]);
    window.until("step 2", |told| told["step"] == 2);
    window.click("to-plan");
    window.until("planning", |told| told["step"].is_null());

    // Saving keeps everything else as it was written.
    window.click("save");
    window.until("saved", |told| told["dirty"] == false);
    let saved = window.job();
    assert!(saved.contains("\"clr\": \"4 1/4 in\""), "{saved}");
    let line = STACK
        .lines()
        .find(|line| line.contains("exit\": {"))
        .unwrap();
    assert!(saved.contains(line), "{saved}");

    // Nor is it saved over another's change.
    fs::write(window.folder.path().join("job.json"), "theirs").unwrap();
    window.write("field tube.material", "321");
    window.until("dirty", |told| {
        told["dirty"] == true && told["busy"] == false
    });
    window.click("save");
    window.until("the question", |told| {
        told["ask"]
            .as_str()
            .is_some_and(|ask| ask.contains("Changed"))
    });
    assert_eq!(window.job(), "theirs");
    window.click("leave");
    window.until("no question", |told| told["ask"].is_null());
}

#[test]
fn open_ways_measure_section_room_corners_and_export() {
    let bay = include_str!("../../../examples/bay.json");
    let window = Window::open(STACK);

    // Opening by name; a file that is none is told and changes nothing.
    fs::write(window.folder.path().join("bay.json"), bay).unwrap();
    fs::write(window.folder.path().join("bad.json"), "{\"format\": 1}").unwrap();
    for (name, is_there) in [("bad.json", "job.json"), ("bay.json", "bay.json")] {
        window.click("open");
        window.place("path");
        window.tool(&["type", "--delay", "40", name]);
        window.tool(&["key", "Return"]);
        window.until("the file", |told| {
            told["ask"].is_null() && told["busy"] == false && told["file"] == is_there
        });
    }
    window.until("the bay", |told| {
        told["pieces"] == 8 && told["stale"] == false
    });

    window.click("way 2");
    window.until("way 2", |told| told["way"] == 2);
    window.click("way 1");
    window.until("way 1", |told| told["way"] == 1);

    window.click("heat");
    window.until("the room", |told| told["heat"] == true);
    window.click("heat");
    window.click("section");
    window.until("the section", |told| told["section"] == true);
    window.click("section");
    window.until("the whole", |told| told["section"] == false);

    window.click("tool Measure");
    window.click("in picture 4");
    window.click("in picture 8");
    let told = window.until("a distance", |told| {
        told["measured"]
            .as_array()
            .is_some_and(|list| list.len() == 1)
    });
    let apart = told["measured"][0].as_f64().unwrap();
    assert!((150.0..600.0).contains(&apart), "{apart} mm");

    window.click("export");
    window.place("path");
    window.click("yes");
    window.until("exported", |told| {
        told["notice"]
            .as_str()
            .is_some_and(|text| text.starts_with("Wrote"))
    });
    assert!(window.folder.path().join("results/plan.json").exists());

    // A corner is dragged along its port's axis: the job gets brackets, the run follows.
    window.click("open");
    window.place("path");
    window.tool(&["type", "--delay", "40", "job.json"]);
    window.tool(&["key", "Return"]);
    window.until("the stack", |told| {
        told["file"] == "job.json" && told["busy"] == false && told["pieces"] == 7
    });
    window.click("side -y");
    window.click("tool Drag corners");
    let (x, y) = window.place("corner 1");
    window.drag((x, y), (x, y - 25));
    let told = window.until("dragged", |told| {
        told["undoes"] == "drag corner" && told["busy"] == false
    });
    assert!(
        told["problems"].as_array().is_some_and(Vec::is_empty),
        "{told:#}"
    );

    // Closing with changes asks first.
    window.tool(&["keydown", "ctrl"]);
    window.tool(&["key", "z"]);
    window.tool(&["keyup", "ctrl"]);
    window.until("undone", |told| told["dirty"] == false);
}

/// A file is dropped on the window; then nothing happens, and nothing is drawn.
#[cfg(target_os = "linux")]
#[test]
fn a_file_is_dropped_and_an_idle_window_rests() {
    let window = Window::open(STACK);
    let file = window.folder.path().join("bay.json");
    fs::write(&file, include_str!("../../../examples/bay.json")).unwrap();
    let id = window.id();
    assert!(drop::takes_files(&window.display, id));
    drop::drop_file(&window.display, id, &file, window.place("picture"));
    window.until("the dropped job", |told| {
        told["file"] == "bay.json" && told["busy"] == false && told["pieces"] == 8
    });

    // The tack-up's first tape, then back: the steps are the library's.
    window.click("to-build");
    window.until("a cut", |told| {
        told["title"]
            .as_str()
            .is_some_and(|title| title.starts_with("Cut"))
    });
    window.click("to-plan");

    // Idle: of all looks at the window hardly one draws.
    let rested = window.until("rest", |told| told["drawn"].as_u64().is_some());
    let (count, drawn) = (&rested["picture"], &rested["drawn"]);
    let looks = |told: &Value| told["picture"].as_u64().unwrap() - count.as_u64().unwrap();
    let told = window.until("many looks", |told| looks(told) > 400);
    let drew = told["drawn"].as_u64().unwrap() - drawn.as_u64().unwrap();
    assert!(
        drew * 4 < looks(&told),
        "{drew} pictures in {} looks",
        looks(&told)
    );
}
