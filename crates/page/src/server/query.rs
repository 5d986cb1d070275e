//! The part of an address after the question mark.

use axum::http::Uri;

/// The value of a key; `None` when it is not there. What is not well written stays as it is.
pub(crate) fn value(uri: &Uri, key: &str) -> Option<String> {
    let mut pairs = uri.query()?.split('&');
    pairs.find_map(|pair| {
        let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
        (name == key).then(|| decoded(value.as_bytes()))
    })
}

/// A value with its percents and pluses taken apart; bytes that are no text become marks.
fn decoded(mut value: &[u8]) -> String {
    let mut bytes = Vec::with_capacity(value.len());
    while let [first, rest @ ..] = value {
        value = rest;
        match (first, rest) {
            (b'+', _) => bytes.push(b' '),
            (b'%', [high, low, after @ ..]) if hex(*high).is_some() && hex(*low).is_some() => {
                let nibble = |digit| hex(digit).unwrap_or(0);
                bytes.push(nibble(*high) << 4 | nibble(*low));
                value = after;
            }
            (byte, _) => bytes.push(*byte),
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn hex(digit: u8) -> Option<u8> {
    char::from(digit)
        .to_digit(16)
        .and_then(|it| u8::try_from(it).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_taken_apart_and_what_is_badly_written_stays() {
        let uri: Uri = "/x?a=desk%2Dlights+1&b&c=%e2%82%ac%ff%zz%".parse().unwrap();
        assert_eq!(value(&uri, "a").as_deref(), Some("desk-lights 1"));
        assert_eq!(value(&uri, "b").as_deref(), Some(""));
        assert_eq!(value(&uri, "c").as_deref(), Some("\u{20ac}\u{fffd}%zz%"));
        assert_eq!(value(&uri, "d"), None);
    }
}
