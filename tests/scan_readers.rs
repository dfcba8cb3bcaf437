//! Readers of scanned meshes: what was written comes back from every format, and no
//! bytes whatever make them panic, hang or fill the memory.

#[path = "support/scan_files.rs"]
mod scan_files;

use proptest::prelude::*;
use runwright::scan::{Dropped, FARTHEST, Mesh, ReadError, Reading, Wanted, read_mesh};
use runwright::units::Length;
use scan_files::{Drawing, Form, gzip};
use std::collections::HashSet;
use std::time::{Duration, Instant};

/// Spoiled files that are tried; `PROPTEST_CASES` takes their place.
const SPOILED: u32 = 30_000;
/// Longest time that reading one of them may take; they are small.
const PATIENCE: Duration = Duration::from_secs(5);
/// Most memory of the whole test, kB. Nothing in it is large but what a file claims.
const MEMORY: usize = 300_000;

fn inches() -> Wanted {
    Wanted::all(Length::from_inches(1.0))
}

/// Meshes on a coarse grid, where points coincide and triangles are flat or repeated.
fn drawing() -> impl Strategy<Value = Drawing> {
    let point = prop::array::uniform3((-4_i8..=4).prop_map(|x| f32::from(x) / 4.0));
    let points = prop::collection::vec(point, 3..14);
    points.prop_flat_map(|points| {
        let corner = 0..points.len() as u32;
        let triangles = prop::collection::vec(prop::array::uniform3(corner), 1..12);
        let groups = prop::collection::vec(triangles, 1..4);
        groups.prop_map(move |groups| Drawing {
            points: points.clone(),
            groups: groups
                .into_iter()
                .enumerate()
                .map(|(number, triangles)| (format!("part {number}"), triangles))
                .collect(),
        })
    })
}

/// Whether three points of the grid are in line, without rounding.
fn is_flat([a, b, c]: [[f32; 3]; 3]) -> bool {
    let less = |p: [f32; 3], q: [f32; 3]| [0, 1, 2].map(|i| p[i] - q[i]);
    let (u, v) = (less(b, a), less(c, a));
    (0..3).all(|i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        u[j] * v[k] == u[k] * v[j]
    })
}

/// Names of groups with the corners of their triangles, mm.
type Corners = Vec<(String, Vec<[[f64; 3]; 3]>)>;

/// What should come back: corners in mm, group by group, and what is left out.
fn expected(drawing: &Drawing) -> (Corners, Dropped) {
    let mut dropped = Dropped::default();
    let mut seen = HashSet::new();
    let mut groups = Vec::new();
    for (name, triangles) in &drawing.groups {
        let mut kept = Vec::new();
        for &triangle in triangles {
            let corners = drawing.corners(triangle);
            let mut places = corners.map(|corner| corner.map(|x| (x * 4.0) as i32));
            places.sort_unstable();
            if is_flat(corners) {
                dropped.degenerate += 1;
            } else if seen.insert(places) {
                kept.push(corners.map(|corner| corner.map(|x| f64::from(x) * 25.4 + 0.0)));
            } else {
                dropped.duplicate += 1;
            }
        }
        groups.push((name.clone(), kept));
    }
    groups.retain(|(_, kept)| !kept.is_empty());
    (groups, dropped)
}

/// A mesh's corners, group by group.
fn corners(mesh: &Mesh) -> Corners {
    let corners_of = |triangle| mesh.corners(triangle).map(|corner| corner.into());
    let groups = mesh.groups.iter();
    groups
        .map(|group| {
            (
                group.name.clone(),
                group.triangles.clone().map(corners_of).collect(),
            )
        })
        .collect()
}

/// What holds for every mesh that was read.
fn check_sound(reading: &Reading) {
    let mesh = &reading.mesh;
    let mut end = 0;
    for group in &mesh.groups {
        assert_eq!(group.triangles.start, end, "groups follow each other");
        assert!(!group.triangles.is_empty());
        end = group.triangles.end;
    }
    assert_eq!(end, mesh.triangles.len(), "groups hold all triangles");
    let mut used = vec![false; mesh.points.len()];
    for &corner in mesh.triangles.iter().flatten() {
        used[corner as usize] = true;
    }
    assert!(used.iter().all(|used| *used), "every point is used");
    let near = |x: &f64| x.abs() <= FARTHEST;
    assert!(mesh.points.iter().all(|point| point.iter().all(near)));
    let places: HashSet<[u64; 3]> = mesh
        .points
        .iter()
        .map(|p| [p.x, p.y, p.z].map(f64::to_bits))
        .collect();
    assert_eq!(
        places.len(),
        mesh.points.len(),
        "every place is listed once"
    );
    let in_file: usize = reading.groups_in_file.iter().map(|(_, count)| count).sum();
    let dropped = reading.dropped.duplicate + reading.dropped.not_finite;
    assert!(mesh.triangles.len() + dropped <= in_file);
}

proptest! {
    #[test]
    fn every_format_brings_back_what_was_written(drawing in drawing(), packed: bool) {
        let (groups, dropped) = expected(&drawing);
        for form in Form::ALL {
            let bytes = form.write(&drawing);
            let bytes = if packed { gzip(&bytes) } else { bytes };
            let reading = match read_mesh(form.name(), bytes.as_slice(), &inches()) {
                Ok(reading) => reading,
                Err(ReadError::NothingSound { dropped: found }) => {
                    prop_assert!(groups.is_empty());
                    prop_assert_eq!(found, dropped);
                    continue;
                }
                Err(error) => panic!("{form:?}: {error}"),
            };
            check_sound(&reading);
            prop_assert_eq!(reading.dropped, dropped, "{:?}", form);
            let found = corners(&reading.mesh);
            if form.has_groups() {
                prop_assert_eq!(&found, &groups, "{:?}", form);
            } else {
                let all = groups.iter().flat_map(|(_, corners)| corners.iter().copied());
                prop_assert_eq!(&found[0].1, &all.collect::<Vec<_>>(), "{:?}", form);
                prop_assert_eq!(found.len(), 1);
            }
        }
    }

    #[test]
    fn groups_are_kept_and_dropped_by_name(drawing in drawing()) {
        let file = Form::Obj.write(&drawing);
        for kept in &drawing.groups {
            let mut wanted = inches();
            wanted.keep = vec!["*0".to_owned(), kept.0.clone()];
            wanted.drop = vec!["p*0".to_owned(), "nothing".to_owned()];
            let alone = Drawing {
                groups: vec![kept.clone()],
                ..drawing.clone()
            };
            match read_mesh("bay.obj", file.as_slice(), &wanted) {
                Ok(reading) => {
                    prop_assert_eq!(reading.unused_patterns, vec!["nothing".to_owned()]);
                    prop_assert_eq!(reading.groups_in_file.len(), drawing.groups.len());
                    prop_assert_eq!(corners(&reading.mesh), expected(&alone).0);
                }
                Err(ReadError::NothingKept { groups }) => {
                    prop_assert_eq!(kept.0.as_str(), "part 0");
                    prop_assert_eq!(groups.len(), drawing.groups.len());
                }
                Err(ReadError::NothingSound { .. }) => {
                    prop_assert!(expected(&alone).0.is_empty());
                }
                Err(error) => panic!("{error}"),
            }
        }
    }
}

/// One way to spoil a file. Places are parts of 65536 of its length.
#[derive(Clone, Debug)]
enum Spoil {
    Flip(u16, u8),
    Cut(u16),
    Insert(u16, Vec<u8>),
    Remove(u16, u8),
    Repeat(u16, u16),
    /// A number's bytes.
    Overwrite(u16, [u8; 4]),
    /// The first number in the text after a place.
    Number(u16, &'static str),
}

/// What lying counts and odd coordinates look like.
const NUMBERS: [&str; 12] = [
    "0",
    "-1",
    "2",
    "255",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "99999999999999999999999",
    "1e308",
    "nan",
    "-inf",
    "-9223372036854775808",
];

/// Words that mean something to a reader.
const WORDS: [&str; 12] = [
    "solid x\n",
    "endsolid\n",
    "facet\n",
    "endloop\n",
    "f 1 2 3 4 5\n",
    "g \n",
    "\\\n",
    "\0",
    "element face 99999999\n",
    "element x 9999999999999\n",
    "property list char double vertex_index\n",
    "end_header\n",
];

fn spoil() -> impl Strategy<Value = Spoil> {
    let extreme = prop_oneof![
        Just([0xff; 4]),
        Just([0, 0, 0, 0x80]),
        Just([0xff, 0xff, 0xff, 0x7f]),
        Just([0, 0, 0xc0, 0x7f]),
        any::<[u8; 4]>(),
    ];
    let junk = prop_oneof![
        prop::collection::vec(any::<u8>(), 1..20),
        prop::sample::select(&WORDS[..]).prop_map(|word| word.as_bytes().to_vec()),
    ];
    prop_oneof![
        (any::<u16>(), 0..8_u8).prop_map(|(at, bit)| Spoil::Flip(at, bit)),
        any::<u16>().prop_map(Spoil::Cut),
        (any::<u16>(), junk).prop_map(|(at, junk)| Spoil::Insert(at, junk)),
        any::<(u16, u8)>().prop_map(|(at, length)| Spoil::Remove(at, length)),
        any::<(u16, u16)>().prop_map(|(from, to)| Spoil::Repeat(from, to)),
        (any::<u16>(), extreme).prop_map(|(at, bytes)| Spoil::Overwrite(at, bytes)),
        (any::<u16>(), prop::sample::select(&NUMBERS[..])).prop_map(|(at, n)| Spoil::Number(at, n)),
    ]
}

fn apply(spoil: &Spoil, bytes: &mut Vec<u8>) {
    let length = bytes.len();
    let place = |at: u16| usize::from(at) * length / 65_536;
    match spoil {
        Spoil::Flip(at, bit) => {
            if let Some(byte) = bytes.get_mut(place(*at)) {
                *byte ^= 1 << bit;
            }
        }
        Spoil::Cut(at) => bytes.truncate(place(*at)),
        Spoil::Insert(at, junk) => {
            bytes.splice(place(*at)..place(*at), junk.iter().copied());
        }
        Spoil::Remove(at, count) => {
            let from = place(*at);
            bytes.drain(from..length.min(from + usize::from(*count)));
        }
        Spoil::Repeat(from, to) => {
            let (from, to) = (place(*from.min(to)), place(*from.max(to)));
            let again = bytes[from..to].to_vec();
            bytes.splice(to..to, again);
        }
        Spoil::Overwrite(at, number) => {
            for (byte, new) in bytes[place(*at)..].iter_mut().zip(number) {
                *byte = *new;
            }
        }
        Spoil::Number(at, number) => {
            let is_digit = |byte: &u8| byte.is_ascii_digit();
            let from = place(*at);
            if let Some(start) = bytes[from..].iter().position(is_digit).map(|n| from + n) {
                let digits = bytes[start..].iter().take_while(|byte| is_digit(byte));
                let end = start + digits.count();
                bytes.splice(start..end, number.bytes());
            }
        }
    }
}

fn spoiled_cases() -> u32 {
    let asked = std::env::var("PROPTEST_CASES").ok();
    asked
        .and_then(|cases| cases.parse().ok())
        .unwrap_or(SPOILED)
}

/// The most memory that this process has had, kB, where the system tells.
fn peak_memory() -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    number.unwrap_or_default()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(spoiled_cases()) })]

    #[test]
    fn spoiled_files_are_read_or_refused(
        drawing in drawing(),
        form in prop::sample::select(&Form::ALL[..]),
        name in prop_oneof![4 => Just(None), 1 => prop::sample::select(&["a.stl", "a.ply", "a.obj.gz", "a"][..]).prop_map(Some)],
        spoils in prop::collection::vec(spoil(), 1..4),
        packed: bool,
        packed_spoils in prop::collection::vec(spoil(), 0..2),
    ) {
        let mut bytes = form.write(&drawing);
        for spoil in &spoils {
            apply(spoil, &mut bytes);
        }
        let length = bytes.len();
        if packed {
            bytes = gzip(&bytes);
            for spoil in &packed_spoils {
                apply(spoil, &mut bytes);
            }
        }
        let began = Instant::now();
        match read_mesh(name.unwrap_or(form.name()), bytes.as_slice(), &inches()) {
            Ok(reading) => {
                check_sound(&reading);
                let intact = !packed || packed_spoils.is_empty();
                prop_assert!(!intact || reading.mesh.triangles.len() <= length);
            }
            Err(error) => {
                prop_assert!(!error.to_string().is_empty() && !error.help().is_empty());
                prop_assert!(error.to_string().len() < 1000, "{}", error);
            }
        }
        prop_assert!(began.elapsed() < PATIENCE);
        prop_assert!(peak_memory() < MEMORY);
    }

    #[test]
    fn junk_is_read_or_refused(
        bytes in prop::collection::vec(any::<u8>(), 0..300),
        name in prop::sample::select(&["a.stl", "a.ply", "a.obj", "a.gz", ""][..]),
        start in prop::sample::select(&["", "solid\n", "ply\n", "\u{1f}", "\u{feff}"][..]),
    ) {
        let bytes: Vec<u8> = start.bytes().chain(bytes).collect();
        if let Ok(reading) = read_mesh(name, bytes.as_slice(), &inches()) {
            check_sound(&reading);
        }
    }
}
