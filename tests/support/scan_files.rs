//! Small meshes, and the simplest writers of every format that is read.
#![allow(dead_code, reason = "each user takes what it needs")]

use flate2::Compression;
use flate2::write::GzEncoder;
use std::fmt::Write as _;
use std::io::Write as _;

/// What is written: points, and triangles in groups.
#[derive(Clone, Debug)]
pub struct Drawing {
    pub points: Vec<[f32; 3]>,
    pub groups: Vec<(String, Vec<[u32; 3]>)>,
}

/// A way to write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    StlBinary,
    StlText,
    PlyText,
    PlyLittle,
    PlyBig,
    /// All triangles in one list of strips.
    PlyStrips,
    Obj,
    /// Corners counted backward, lines broken, textures and normals named.
    ObjBackward,
}

impl Form {
    pub const ALL: [Self; 8] = [
        Self::StlBinary,
        Self::StlText,
        Self::PlyText,
        Self::PlyLittle,
        Self::PlyBig,
        Self::PlyStrips,
        Self::Obj,
        Self::ObjBackward,
    ];

    /// A name that the file may have.
    pub const fn name(self) -> &'static str {
        match self {
            Self::StlBinary | Self::StlText => "bay.stl",
            Self::PlyText | Self::PlyLittle | Self::PlyBig | Self::PlyStrips => "bay.ply",
            Self::Obj | Self::ObjBackward => "bay.obj",
        }
    }

    /// Whether it keeps groups.
    pub const fn has_groups(self) -> bool {
        matches!(self, Self::StlText | Self::Obj | Self::ObjBackward)
    }

    pub fn write(self, drawing: &Drawing) -> Vec<u8> {
        match self {
            Self::StlBinary => stl_binary(drawing),
            Self::StlText => stl_text(drawing).into_bytes(),
            Self::PlyText => ply_text(drawing).into_bytes(),
            Self::PlyLittle => ply_binary(drawing, false),
            Self::PlyBig => ply_binary(drawing, true),
            Self::PlyStrips => ply_strips(drawing),
            Self::Obj => obj(drawing).into_bytes(),
            Self::ObjBackward => obj_backward(drawing).into_bytes(),
        }
    }
}

impl Drawing {
    pub fn triangles(&self) -> impl Iterator<Item = [u32; 3]> {
        self.groups
            .iter()
            .flat_map(|(_, triangles)| triangles.iter().copied())
    }

    pub fn corners(&self, triangle: [u32; 3]) -> [[f32; 3]; 3] {
        triangle.map(|corner| self.points[corner as usize])
    }
}

/// Compressed, in two members.
pub fn gzip(bytes: &[u8]) -> Vec<u8> {
    let (a, b) = bytes.split_at(bytes.len() / 2);
    [a, b].into_iter().flat_map(gzip_member).collect()
}

fn gzip_member(bytes: &[u8]) -> Vec<u8> {
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(bytes).expect("memory takes it");
    packed.finish().expect("memory takes it")
}

fn stl_binary(drawing: &Drawing) -> Vec<u8> {
    // As some programs begin binary files.
    let mut bytes = b"solid but binary".to_vec();
    bytes.resize(80, b' ');
    bytes.extend((drawing.triangles().count() as u32).to_le_bytes());
    for triangle in drawing.triangles() {
        bytes.extend([0; 12]);
        let numbers = drawing.corners(triangle).into_iter().flatten();
        bytes.extend(numbers.flat_map(f32::to_le_bytes));
        bytes.extend([0; 2]);
    }
    bytes
}

fn stl_text(drawing: &Drawing) -> String {
    let mut text = String::new();
    for (name, triangles) in &drawing.groups {
        let _ = writeln!(text, "solid {name}");
        for &triangle in triangles {
            text += "  facet normal 0 0 0\n    outer loop\n";
            for [x, y, z] in drawing.corners(triangle) {
                let _ = writeln!(text, "      vertex {x:e} {y:?} {z}");
            }
            text += "    endloop\n  endfacet\n";
        }
        let _ = writeln!(text, "endsolid {name}");
    }
    text
}

fn ply_header(drawing: &Drawing, format: &str, faces: &str) -> String {
    format!(
        "ply\nformat {format} 1.0\ncomment made by a test\nelement empty 9\n\
         element vertex {}\nproperty double x\nproperty float confidence\nproperty float z\n\
         property list uchar short extra\nproperty float y\n{faces}end_header\n",
        drawing.points.len()
    )
}

fn faces(drawing: &Drawing) -> String {
    format!(
        "element face {}\nproperty uchar red\nproperty list ushort uint vertex_indices\n",
        drawing.triangles().count()
    )
}

fn ply_text(drawing: &Drawing) -> String {
    let mut text = ply_header(drawing, "ascii", &faces(drawing));
    for [x, y, z] in &drawing.points {
        let _ = writeln!(text, "{x} 0.5 {z:e} 2 -7 7 {y}");
    }
    for [a, b, c] in drawing.triangles() {
        let _ = writeln!(text, "255 3 {a} {b} {c}");
    }
    text
}

fn ply_binary(drawing: &Drawing, big: bool) -> Vec<u8> {
    let format = if big {
        "binary_big_endian"
    } else {
        "binary_little_endian"
    };
    let mut bytes = ply_header(drawing, format, &faces(drawing)).into_bytes();
    let mut put = |number: &[u8]| {
        let start = bytes.len();
        bytes.extend(number);
        if big {
            bytes[start..].reverse();
        }
    };
    for [x, y, z] in &drawing.points {
        put(&f64::from(*x).to_le_bytes());
        put(&0.5_f32.to_le_bytes());
        put(&z.to_le_bytes());
        put(&[2]);
        put(&(-7_i16).to_le_bytes());
        put(&7_i16.to_le_bytes());
        put(&y.to_le_bytes());
    }
    for triangle in drawing.triangles() {
        put(&[255]);
        put(&3_u16.to_le_bytes());
        for corner in triangle {
            put(&corner.to_le_bytes());
        }
    }
    bytes
}

fn ply_strips(drawing: &Drawing) -> Vec<u8> {
    let strips = "element tristrips 1\nproperty list int int vertex_indices\n";
    let header = ply_header(drawing, "binary_little_endian", strips);
    let mut bytes = header.into_bytes();
    for [x, y, z] in &drawing.points {
        bytes.extend(f64::from(*x).to_le_bytes());
        bytes.extend(0.5_f32.to_le_bytes());
        bytes.extend(z.to_le_bytes());
        bytes.push(0);
        bytes.extend(y.to_le_bytes());
    }
    bytes.extend((drawing.triangles().count() as u32 * 4).to_le_bytes());
    for triangle in drawing.triangles() {
        let corners = triangle.map(|corner| corner as i32);
        let corners = corners.into_iter().chain([-1]);
        bytes.extend(corners.flat_map(i32::to_le_bytes));
    }
    bytes
}

fn obj_points(drawing: &Drawing) -> String {
    let mut text = "# made by a test in C:\\temp\\\nmtllib a.mtl\n".to_owned();
    for [x, y, z] in &drawing.points {
        let _ = writeln!(text, "v {x} {y:e} {z:?}");
    }
    text
}

fn obj(drawing: &Drawing) -> String {
    let mut text = obj_points(drawing);
    for (name, triangles) in &drawing.groups {
        let _ = writeln!(text, "g {name}\nusemtl steel");
        for triangle in triangles {
            let [a, b, c] = triangle.map(|corner| corner + 1);
            let _ = writeln!(text, "f {a} {b} {c}");
        }
    }
    text
}

fn obj_backward(drawing: &Drawing) -> String {
    let mut text = obj_points(drawing);
    let count = drawing.points.len() as i64;
    text += "vt 0 0\nvn 0 0 1\n";
    for (name, triangles) in &drawing.groups {
        let _ = writeln!(text, "o {name}\ns off");
        for triangle in triangles {
            let [a, b, c] = triangle.map(|corner| i64::from(corner) - count);
            let _ = writeln!(text, "f {a}/1/1 {b}//-1 \\\r\n {c}/1");
        }
    }
    text
}
