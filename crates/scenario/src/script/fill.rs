//! Parameters: `{name}` in a text stands for a value.

use std::collections::BTreeMap;

use crate::diagnostic::nearest;
use crate::words::WordError;

/// The text with the values of parameters in the place of `{name}`.
pub(crate) fn fill(text: &str, values: &BTreeMap<String, String>) -> Result<String, WordError> {
    let mut filled = String::new();
    let mut rest = text;
    while let Some(open) = rest.find('{') {
        let start = text.len() - rest.len() + open;
        let Some(close) = rest[open..].find('}') else {
            return Err(WordError::new(
                start..text.len(),
                "the brace of a parameter is not closed",
                "write `{delay}`",
            ));
        };
        let name = &rest[open + 1..open + close];
        let Some(value) = values.get(name) else {
            let hint = match nearest(name, values.keys().map(String::as_str)) {
                Some(near) => format!("did you mean `{{{near}}}`?"),
                None => format!("give it a value: `{name} = […]` under [with], or `parameters`"),
            };
            let range = start..start + close + 1;
            return Err(WordError::new(
                range,
                format!("there is no parameter `{name}`"),
                hint,
            ));
        };
        filled.push_str(&rest[..open]);
        filled.push_str(value);
        rest = &rest[open + close + 1..];
    }
    filled.push_str(rest);
    Ok(filled)
}
