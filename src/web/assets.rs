//! Styles, scripts and pictures, compiled in. One hash stands for all of them, so that a script
//! finds its neighbours by their plain names.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::HeaderValue;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use rust_embed::Embed;
use sha2::{Digest, Sha256};

use super::error::WebError;

#[derive(Embed)]
#[folder = "src/web/assets/"]
struct Assets;

static HASH: LazyLock<String> = LazyLock::new(|| {
    let mut all = Sha256::new();
    let mut names: Vec<_> = Assets::iter().collect();
    names.sort();
    for name in names {
        if let Some(asset) = Assets::get(&name) {
            all.update(name.as_bytes());
            all.update(asset.metadata.sha256_hash());
        }
    }
    let digest = data_encoding::HEXLOWER.encode(&all.finalize());
    digest.chars().take(16).collect()
});

/// The address of an asset; it changes when any asset does.
pub(super) fn address(name: &str) -> String {
    format!("/assets/{}/{name}", *HASH)
}

/// `GET /assets/{hash}/{*name}`: kept for good under the right hash, asked for again under another.
pub(super) async fn asset(
    Path((hash, name)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let asset = Assets::get(&name).ok_or(WebError::NotFound)?;
    let kept = if hash == *HASH {
        "public, max-age=31536000, immutable"
    } else {
        "no-cache"
    };
    let kind = HeaderValue::from_str(asset.metadata.mimetype()).map_err(|_| WebError::NotFound)?;
    let headers = [
        (CONTENT_TYPE, kind),
        (CACHE_CONTROL, HeaderValue::from_static(kept)),
    ];
    Ok((headers, asset.data.into_owned()).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_a_listener_loads_is_small() {
        let for_staff = |name: &str| name.starts_with("desk") || name == "reach.js";
        let bytes: usize = Assets::iter()
            .filter(|name| !for_staff(name))
            .filter_map(|name| Assets::get(&name))
            .map(|asset| asset.data.len())
            .sum();
        assert!(bytes < 60_000, "{bytes} bytes of styles and scripts");
    }

    #[test]
    fn nothing_comes_from_elsewhere() {
        for name in Assets::iter() {
            let asset = Assets::get(&name).unwrap();
            let text = String::from_utf8_lossy(&asset.data).replace("http://www.w3.org/", "");
            assert!(!text.contains("://"), "{name} names another host");
        }
    }
}
