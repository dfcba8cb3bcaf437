//! A section of the README with its commands and what it quotes of their output.
#![allow(dead_code, reason = "each user takes what it needs")]

use std::path::Path;

/// A block of a section.
#[derive(Debug, PartialEq)]
pub enum Block {
    /// Commands, a line each.
    Commands(Vec<String>),
    /// What a program prints or writes.
    Quoted(String),
}

/// All blocks of the README's section under this heading, signs and all, in order.
pub fn section(heading: &str) -> Vec<Block> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = std::fs::read_to_string(file).expect("a README");
    let start = format!("\n{heading}\n");
    let (_, rest) = text.split_once(&start).expect("the section");
    let ends = ["\n## ", "\n### "]
        .into_iter()
        .filter_map(|next| rest.find(next));
    let section = &rest[..ends.min().unwrap_or(rest.len())];
    let mut blocks = Vec::new();
    // Fences take turns: every second part lies within a pair.
    for block in section.split("```").skip(1).step_by(2) {
        match block.split_once('\n') {
            Some(("sh", lines)) => {
                blocks.push(Block::Commands(lines.lines().map(str::to_owned).collect()));
            }
            Some(("text", quoted)) => blocks.push(Block::Quoted(quoted.to_owned())),
            _ => {}
        }
    }
    blocks
}

/// A command as a shell takes it apart: words, of which quotes may hold blanks, and the
/// file that its output goes to.
pub fn words(command: &str) -> (Vec<String>, Option<String>) {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for sign in command.chars() {
        match sign {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().expect("one at least").push(sign),
        }
    }
    words.retain(|word| !word.is_empty());
    let to = words.iter().position(|word| word == ">").map(|at| {
        let to = words.remove(at + 1);
        words.remove(at);
        to
    });
    (words, to)
}
