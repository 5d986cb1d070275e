//! Who is let in, and as what.
//!
//! Invariant: nothing but a code of the session makes anybody a trainer from another machine,
//! and no page of another site can give a command.

use std::net::{IpAddr, SocketAddr};

use axum::http::{HeaderMap, Uri, header};

/// What somebody may do.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Role {
    /// Drives the room.
    Trainer,
    /// Watches.
    Viewer,
}

impl Role {
    /// The word on the wire.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Trainer => "trainer",
            Self::Viewer => "viewer",
        }
    }
}

/// The codes that let people in: long enough that nobody guesses one by trying.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Codes {
    /// For whoever drives the room.
    pub trainer: String,
    /// For those who watch.
    pub viewer: String,
}

/// The gate of a page.
#[derive(Debug)]
pub(crate) struct Gate {
    /// `None`: only this machine can reach the page, and whoever does drives it.
    codes: Option<Codes>,
    /// The name of the cookie: browsers keep the cookies of all ports of a machine together.
    cookie: String,
}

impl Gate {
    pub(crate) fn new(codes: Option<Codes>, port: u16) -> Self {
        Self {
            codes,
            cookie: format!("roomrig-{port}"),
        }
    }

    /// What somebody with this address and these headers may do; `None`: nothing.
    pub(crate) fn role(&self, uri: &Uri, headers: &HeaderMap) -> Option<Role> {
        let Some(codes) = &self.codes else {
            return Some(Role::Trainer);
        };
        let shown = code_of(uri).or_else(|| self.cookie_of(headers))?;
        if same(&shown, &codes.trainer) {
            Some(Role::Trainer)
        } else if same(&shown, &codes.viewer) {
            Some(Role::Viewer)
        } else {
            None
        }
    }

    /// The code for those who watch.
    pub(crate) fn viewer(&self) -> Option<&str> {
        self.codes.as_ref().map(|codes| codes.viewer.as_str())
    }

    /// The cookie that shows a code from now on.
    pub(crate) fn cookie(&self, code: &str) -> String {
        format!("{}={code}; Path=/; SameSite=Strict; HttpOnly", self.cookie)
    }

    /// Whether the page is asked for under a name that it has. A page that only this machine can
    /// reach has no other: a name of another site that leads here is a trick.
    pub(crate) fn knows_host(&self, headers: &HeaderMap) -> bool {
        if self.codes.is_some() {
            return headers.contains_key(header::HOST);
        }
        let Some(host) = text(headers, header::HOST) else {
            return false;
        };
        let name = match host.strip_prefix('[') {
            Some(rest) => rest.split(']').next().unwrap_or(""),
            None => host.split(':').next().unwrap_or(""),
        };
        let is_loopback = name.parse::<IpAddr>().is_ok_and(|it| it.is_loopback());
        is_loopback || name.eq_ignore_ascii_case("localhost")
    }

    fn cookie_of(&self, headers: &HeaderMap) -> Option<String> {
        let cookies = headers.get_all(header::COOKIE).iter();
        let all = cookies.filter_map(|it| it.to_str().ok());
        let mut pairs = all.flat_map(|it| it.split(';'));
        pairs.find_map(|pair| {
            let (name, value) = pair.trim().split_once('=')?;
            (name == self.cookie).then(|| value.to_owned())
        })
    }
}

/// Whether a command comes from the page itself: its origin is the host that it is sent to. What
/// has no origin is no browser, and has to say so from this machine.
pub(crate) fn is_own(headers: &HeaderMap, peer: Option<SocketAddr>) -> bool {
    match text(headers, header::ORIGIN) {
        Some(origin) => {
            let host = text(headers, header::HOST);
            host.is_some_and(|host| origin.strip_prefix("http://") == Some(host))
        }
        None => {
            let near = peer.is_some_and(|peer| peer.ip().is_loopback());
            near && headers.get(PROGRAM).is_some_and(|it| it == "1")
        }
    }
}

/// The code in an address.
pub(crate) fn code_of(uri: &Uri) -> Option<String> {
    super::query::value(uri, "code")
}

fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

/// Whether two codes are the same, in a time that says nothing about where they differ.
fn same(one: &str, two: &str) -> bool {
    let differ = one
        .bytes()
        .zip(two.bytes())
        .fold(0, |all, (a, b)| all | (a ^ b));
    one.len() == two.len() && differ == 0
}

/// The header by which a program says that it is no page of another site.
const PROGRAM: &str = "x-roomrig";
