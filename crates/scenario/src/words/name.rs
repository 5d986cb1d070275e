//! Names of sources, outputs and whatever else a room has.

use super::WordError;

/// Words that clauses and scenario rows use for themselves, so nothing can be called so.
pub const RESERVED: &[&str] = &[
    "a", "after", "all", "always", "an", "and", "any", "asks", "at", "becomes", "before",
    "between", "by", "change", "changes", "day", "does", "every", "for", "from", "full", "in",
    "include", "is", "least", "lost", "lower", "lowers", "more", "most", "never", "no", "none",
    "not", "of", "off", "on", "only", "or", "raise", "raises", "room", "shows", "sound", "motion",
    "than", "the", "then", "to", "turn", "turns", "unknown", "unless", "until", "when", "while",
    "within",
];

/// A name: small letters, digits and hyphens, starting with a letter: `wall-sensor`, `aisle-3`.
///
/// # Errors
/// When the text is not a name, or is a word that clauses use for themselves.
pub fn name(text: &str) -> Result<&str, WordError> {
    let proposal = proposal(text);
    let advice = |hint: &str| match &proposal {
        Some(proposal) => format!("write `{proposal}`"),
        None => hint.to_owned(),
    };
    if text.is_empty() {
        return Err(WordError::new(
            0..0,
            "an empty name",
            "write a name such as `desk-lights`",
        ));
    }
    let allowed = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if let Some((at, c)) = text.char_indices().find(|&(_, c)| !allowed(c)) {
        return Err(WordError::new(
            at..at + c.len_utf8(),
            format!("{c:?} cannot stand in a name"),
            advice("write small letters, digits and hyphens: `desk-lights`"),
        ));
    }
    if !text.starts_with(|c: char| c.is_ascii_lowercase()) || text.ends_with('-') {
        return Err(WordError::whole(
            text,
            format!(
                "the name `{text}` does not start with a letter and end with a letter or digit"
            ),
            advice("start with a letter: `desk-lights`"),
        ));
    }
    if text.len() > LONGEST {
        return Err(WordError::whole(
            text,
            format!("the name is longer than {LONGEST} letters"),
            "write a shorter name: it is printed in every line of a trace",
        ));
    }
    if is_reserved(text) {
        return Err(WordError::whole(
            text,
            format!("`{text}` is a word of the clauses and cannot be a name"),
            format!("add what it is: `{text}-lights`, `{text}-sensor`"),
        ));
    }
    Ok(text)
}

/// What a thing with this name will most likely be called: the nearest name, or the text itself
/// where another word must be found; `None` for what is no name at all.
pub fn nearest_name(text: &str) -> Option<String> {
    let found = proposal(text);
    found.or_else(|| is_reserved(text).then(|| text.to_owned()))
}

/// The language of clauses has words of its own that may grow without this list.
fn is_reserved(text: &str) -> bool {
    RESERVED.contains(&text) || clause::Names::is_reserved(text)
}

const LONGEST: usize = 48;

/// The nearest text that would do.
fn proposal(text: &str) -> Option<String> {
    let mut proposal = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            proposal.push(c.to_ascii_lowercase());
        } else if !proposal.ends_with('-') && !proposal.is_empty() {
            proposal.push('-');
        }
    }
    let proposal = proposal.trim_matches('-');
    let fine = proposal.starts_with(|c: char| c.is_ascii_lowercase())
        && proposal.len() <= LONGEST
        && !is_reserved(proposal);
    (fine && proposal != text).then(|| proposal.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_small_letters_digits_and_hyphens() {
        for good in ["desk-lights", "a1", "aisle-12", "feed-7"] {
            assert_eq!(name(good), Ok(good));
        }
        let hint = |text| name(text).unwrap_err().hint;
        assert_eq!(hint("Desk Lights"), "write `desk-lights`");
        assert_eq!(hint("desk_lights"), "write `desk-lights`");
        assert_eq!(hint("-b"), "write `b`");
        assert!(hint("7").contains("start with a letter"));
        assert!(hint("").contains("desk-lights"));
        assert!(hint("sweep").contains("sweep-lights"));
        assert!(hint("never").contains("never-lights"));
        assert!(hint(&"x".repeat(49)).contains("shorter"));
        assert_eq!(name("caf\u{e9}").unwrap_err().range, 3..5);
    }
}
