//! Answers of the server.
//!
//! Invariant: whatever is asked, the answer says in JSON what is wrong, and no answer lets a page
//! load anything from elsewhere.

use axum::body::Body;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::Response;
use serde::Serialize;

use super::assets::Asset;
use crate::Refusal;

/// An answer of this kind.
pub(crate) fn plain(status: StatusCode, kind: &'static str, body: impl Into<Body>) -> Response {
    let mut response = Response::new(body.into());
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    for (name, value) in &ALWAYS {
        headers.insert(name.clone(), HeaderValue::from_static(value));
    }
    response
}

/// A value as JSON.
pub(crate) fn json(status: StatusCode, value: &impl Serialize) -> Response {
    let text = serde_json::to_string(value).expect("answers are maps of plain values");
    plain(status, "application/json; charset=utf-8", text)
}

/// It is done, and there is nothing to say.
pub(crate) fn done() -> Response {
    plain(StatusCode::NO_CONTENT, "text/plain", Body::empty())
}

/// Something is not done.
pub(crate) fn refused(status: StatusCode, message: &str, hint: &str) -> Response {
    json(status, &Refusal::new(message, hint))
}

/// A file of the page, unless the browser has it already.
pub(crate) fn asset(asset: &Asset, known: Option<&HeaderValue>) -> Response {
    let tag = asset.tag();
    let is_known = known.is_some_and(|known| known.as_bytes() == tag.as_bytes());
    let mut response = if is_known {
        plain(StatusCode::NOT_MODIFIED, asset.kind, Body::empty())
    } else {
        plain(StatusCode::OK, asset.kind, asset.text)
    };
    let tag = HeaderValue::from_str(&tag).expect("a tag is hexadecimal");
    let headers = response.headers_mut();
    headers.insert(header::ETAG, tag);
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    response
}

/// A file to keep.
pub(crate) fn file(name: &'static str, text: String) -> Response {
    let mut response = plain(StatusCode::OK, "application/toml; charset=utf-8", text);
    if let Ok(disposition) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_DISPOSITION, disposition);
    }
    response
}

/// A picture: it brings its own colours, and nothing else.
pub(crate) fn picture(svg: String) -> Response {
    let mut response = plain(StatusCode::OK, "image/svg+xml", svg);
    let policy = HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'");
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, policy);
    response
}

/// What every answer carries.
static ALWAYS: [(HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; \
         object-src 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::CACHE_CONTROL, "no-store"),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

/// Somebody without a code, or with one that lets nobody in.
pub(crate) fn stranger(is_page: bool, has_shown: bool) -> Response {
    if is_page {
        let told = if has_shown { WRONG } else { ">\n" };
        let page = format!("{ASK}{told}{ENTER}");
        return plain(StatusCode::UNAUTHORIZED, "text/html; charset=utf-8", page);
    }
    refused(
        StatusCode::UNAUTHORIZED,
        "the code is missing, or it is another",
        "open the link that `roomrig live` printed",
    )
}

/// The code is right: from now on it travels in a cookie, not in the address.
pub(crate) fn welcome(cookie: &str) -> Response {
    let Ok(cookie) = HeaderValue::from_str(cookie) else {
        return stranger(true, true);
    };
    let mut response = plain(StatusCode::SEE_OTHER, "text/plain", Body::empty());
    let headers = response.headers_mut();
    headers.insert(header::SET_COOKIE, cookie);
    headers.insert(header::LOCATION, HeaderValue::from_static("/"));
    response
}

/// The page that asks for the code.
const ASK: &str = "<!DOCTYPE html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\">\
<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
<title>Live room</title><link rel=\"stylesheet\" href=\"/assets/page.css\"></head>\n\
<body class=\"ask\"><main><h1>Live room</h1>\n\
<form method=\"get\" action=\"/\"><label for=\"code\">The code for this room</label>\n\
<input id=\"code\" name=\"code\" autocomplete=\"off\" autocapitalize=\"none\" \
required autofocus";

/// What it says when the code was another.
const WRONG: &str = " aria-invalid=\"true\" aria-describedby=\"wrong\">\n\
<p class=\"error\" id=\"wrong\">✕ This code lets nobody in. \
Ask the trainer for the one of today: it is another each time the room is started.</p>\n";

/// How it ends.
const ENTER: &str = "<button>Come in</button></form></main></body>\n</html>\n";
