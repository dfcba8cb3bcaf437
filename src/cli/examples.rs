//! Examples in the help of commands.

/// How a line of help begins that is an example.
const MARK: &str = "Example: ";

/// A command's help without its examples, and the examples, each on one line.
pub(super) fn split(help: &str) -> (String, Vec<String>) {
    let mut text = Vec::new();
    let mut examples: Vec<String> = Vec::new();
    let mut goes_on = false;
    for line in help.lines() {
        let (part, more) = match line.strip_suffix('\\') {
            Some(part) => (part, true),
            None => (line, false),
        };
        match (part.strip_prefix(MARK), examples.last_mut()) {
            (Some(example), _) => examples.push(example.trim_end().to_owned()),
            (None, Some(example)) if goes_on => {
                example.push(' ');
                example.push_str(part.trim());
            }
            _ => text.push(line),
        }
        goes_on = more;
    }
    (text.join("\n").trim_end().to_owned(), examples)
}

#[cfg(test)]
mod tests {
    use super::super::Arguments;
    use super::*;
    use clap::{Command, CommandFactory, Parser};
    use std::path::Path;

    /// A shell's words up to where its output goes.
    fn words(line: &str) -> Vec<String> {
        let mut words = vec![String::new()];
        let mut quoted = false;
        for letter in line.chars() {
            match letter {
                '"' => quoted = !quoted,
                ' ' if !quoted => words.push(String::new()),
                '>' | '|' if !quoted => break,
                _ => words.iter_mut().last().unwrap().push(letter),
            }
        }
        words.retain(|word| !word.is_empty());
        words
    }

    /// All commands, their subcommands too.
    fn all(command: &Command) -> Vec<&Command> {
        let below = command.get_subcommands().flat_map(all);
        std::iter::once(command).chain(below).collect()
    }

    fn help_of(command: &Command) -> String {
        let about = command.get_long_about().or_else(|| command.get_about());
        let after = command.get_after_help();
        let parts = about.into_iter().chain(after).map(ToString::to_string);
        parts.collect::<Vec<_>>().join("\n\n")
    }

    #[track_caller]
    fn check(line: &str, of: &str) {
        let words = words(line);
        if let Err(error) = Arguments::try_parse_from(&words) {
            panic!("example of {of}: {line}\n{error}");
        }
        for word in words.iter().filter(|word| word.starts_with("examples/")) {
            assert!(Path::new(word).is_file(), "{of}: no file {word}");
        }
    }

    #[test]
    fn every_command_has_examples_that_it_takes() {
        let mut root = Arguments::command().disable_help_subcommand(true);
        root.build();
        let commands = all(&root);
        assert!(commands.len() > 9, "the tree is walked");
        for command in commands {
            let name = command.get_bin_name().unwrap_or(command.get_name());
            let (_, examples) = split(&help_of(command));
            assert!(!examples.is_empty(), "{name} --help has no example");
            for example in examples {
                let own = format!("{name} ");
                assert!(example.starts_with(&own), "{example} is none of {name}");
                check(&example, name);
            }
        }
    }

    #[test]
    fn commands_in_the_readme_are_taken() {
        let readme = include_str!("../../README.md");
        let blocks = readme.split("```sh\n").skip(1);
        let lines = blocks.flat_map(|block| block.split("```").next().unwrap().lines());
        let mut checked = 0;
        for line in lines {
            let line = line.replace("cargo run -- ", "runwright ");
            if line.starts_with("runwright ") {
                check(&line, "README.md");
                checked += 1;
            }
        }
        assert!(checked >= 4, "{checked}");
    }

    #[test]
    fn examples_are_taken_out_of_the_text() {
        let (text, examples) = split("What it does.\n\nExample: a b \\\n   c\nExample: d\n");
        assert_eq!(text, "What it does.");
        assert_eq!(examples, ["a b c", "d"]);
    }
}
