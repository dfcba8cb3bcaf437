//! Patterns of names, where `*` stands for any characters.

/// Whether `pattern` fits the whole of `name`.
pub fn fits(pattern: &str, name: &str) -> bool {
    let mut parts = pattern.split('*');
    let first = parts.next().unwrap_or_default();
    let Some(last) = parts.next_back() else {
        return pattern == name;
    };
    let middle = name
        .strip_prefix(first)
        .and_then(|rest| rest.strip_suffix(last));
    // The first place of each part leaves the most room for the next.
    let end = parts.try_fold(middle, |rest, part| {
        let rest = rest?;
        let at = rest.find(part)?;
        Some(Some(&rest[at + part.len()..]))
    });
    end.flatten().is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stars_stand_for_any_characters() {
        for (pattern, name) in [
            ("", ""),
            ("*", ""),
            ("*", "wheel"),
            ("wheel", "wheel"),
            ("wh*", "wheel"),
            ("*el", "wheel"),
            ("w*e*l", "wheel"),
            ("**", "wheel"),
            ("*ee*", "wheel"),
            ("a*a", "aa"),
            ("ü*r", "über"),
        ] {
            assert!(fits(pattern, name), "{pattern} {name}");
        }
        for (pattern, name) in [
            ("", "wheel"),
            ("whee", "wheel"),
            ("a*a", "a"),
            ("w*x*l", "wheel"),
            ("*e*e*e*", "wheel"),
            ("ab*bc", "abc"),
        ] {
            assert!(!fits(pattern, name), "{pattern} {name}");
        }
    }
}
