//! The pages' own files, in the program itself. Their address holds a hash of all of them, so that browsers may keep them for
//! ever and fetch new ones at once.

use std::fmt::Write as _;
use std::sync::LazyLock;

use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use crate::page::PageFault;

struct File {
    name: &'static str,
    kind: &'static str,
    bytes: &'static [u8],
}

macro_rules! files {
    ($($name:literal: $kind:literal,)+) => {
        &[$(File { name: $name, kind: $kind, bytes: include_bytes!(concat!("../static/", $name)) }),+]
    };
}

const FILES: &[File] = files![
    "console.css": "text/css; charset=utf-8",
    "console.js": "text/javascript; charset=utf-8",
    "day.css": "text/css; charset=utf-8",
    "day.js": "text/javascript; charset=utf-8",
    "day-judge.js": "text/javascript; charset=utf-8",
    "day-worker.js": "text/javascript; charset=utf-8",
    "judging.js": "text/javascript; charset=utf-8",
    "kept.js": "text/javascript; charset=utf-8",
    "light.js": "text/javascript; charset=utf-8",
    "live.js": "text/javascript; charset=utf-8",
    "mark.svg": "image/svg+xml",
    "offline.js": "text/javascript; charset=utf-8",
    "outbox.js": "text/javascript; charset=utf-8",
    "take.js": "text/javascript; charset=utf-8",
    "taken.js": "text/javascript; charset=utf-8",
];
const LETTERS: &[File] = &[
    File {
        name: "letters-latin.woff2",
        kind: "font/woff2",
        bytes: include_bytes!("../static/vendor/letters-latin.woff2"),
    },
    File {
        name: "letters-latin-ext.woff2",
        kind: "font/woff2",
        bytes: include_bytes!("../static/vendor/letters-latin-ext.woff2"),
    },
];

fn all() -> impl Iterator<Item = &'static File> {
    FILES.iter().chain(LETTERS)
}

static HASH: LazyLock<String> = LazyLock::new(|| {
    let mut hasher = Sha256::new();
    for file in all() {
        hasher.update(file.name);
        hasher.update(file.bytes);
    }
    hasher.finalize().iter().take(8).fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}"); // writing into a String does not fail
        text
    })
});

/// The names of all.
pub(crate) fn names() -> impl Iterator<Item = &'static str> {
    all().map(|file| file.name)
}

/// What stands in a file of text.
pub(crate) fn text(name: &str) -> &'static str {
    let file = all().find(|file| file.name == name);
    file.and_then(|file| std::str::from_utf8(file.bytes).ok()).unwrap_or_default()
}

/// Where a file lies.
pub(crate) fn path(name: &str) -> String {
    format!("/static/{}/{name}", *HASH)
}

/// A file, under whatever hash: a page that was open before a new version finds the new one.
pub(crate) async fn show(uri: axum::http::Uri, _: HeaderMap) -> Response {
    let name = uri.path().rsplit('/').next().unwrap_or_default();
    let Some(file) = all().find(|file| file.name == name) else { return PageFault::NotFound.into_response() };
    let keep = if uri.path() == path(name) { "public, max-age=31536000, immutable" } else { "no-cache" };
    (StatusCode::OK, [(header::CONTENT_TYPE, file.kind), (header::CACHE_CONTROL, keep)], file.bytes)
        .into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_folder_is_served() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("static");
        let files = [folder.clone(), folder.join("vendor")].map(|folder| std::fs::read_dir(folder).unwrap());
        for entry in files.into_iter().flatten().map(Result::unwrap) {
            let name = entry.file_name().into_string().unwrap();
            let is_served = all().any(|file| file.name == name);
            assert!(is_served || entry.path().is_dir() || name.starts_with("LICENSE"), "{name}");
        }
    }

    #[test]
    fn style_and_letters_name_files_that_are_there() {
        let style = std::str::from_utf8(FILES[0].bytes).unwrap();
        let named = style.split("url(\"").skip(1).filter_map(|rest| rest.split('"').next());
        let named: Vec<&str> = named.collect();
        assert!(named.len() >= 2);
        for name in named {
            assert!(all().any(|file| file.name == name), "{name}");
        }
    }
}
