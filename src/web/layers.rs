//! What stands between the network and every handler.

use std::any::Any;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::MatchedPath;
use axum::extract::Request;
use axum::extract::State;
use axum::http::HeaderValue;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::middleware::Next;
use axum::middleware::from_fn;
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{NotForContentType, Predicate, SizeAbove};
use tower_http::csrf::CsrfLayer;
use tower_http::csrf::ProtectionError;
use tower_http::set_header::SetResponseHeaderLayer;
use tower_http::trace::TraceLayer;

use super::error::WebError;
use super::languages::Languages;
use super::listeners_words;
use super::listeners_words::Saying;
use super::reached::Reached;
use super::way;
use super::way::Way;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::accounts;
use crate::app::accounts::Stranger;

/// Longer than any page takes, shorter than a reader's patience (ours).
const PATIENCE: Duration = Duration::from_secs(30);

/// Longer than an upload of recordings takes over a slow network, or a search of all files of a study (ours).
const PATIENCE_WITH_UPLOADS: Duration = Duration::from_hours(1);

/// Below this many bytes, packing a page costs more than it saves.
const WORTH_PACKING: u64 = 512;

/// Headers that every answer carries unless its handler says otherwise.
const USUAL_HEADERS: [(HeaderName, &str); 8] = [
    (
        CONTENT_SECURITY_POLICY,
        "default-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'",
    ),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    // Not `no-referrer`: under it a browser that is too old to tell where a form comes from sends
    // `Origin: null`, and its own forms would be refused. Other sites still hear nothing.
    (REFERRER_POLICY, "same-origin"),
    (CACHE_CONTROL, "no-store"),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (HeaderName::from_static("x-robots-tag"), "noindex"),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=()",
    ),
];

/// Puts every layer around the routes, the outermost first.
pub(super) fn around(
    routes: Router,
    workspace: Workspace,
    languages: Arc<Languages>,
    reached: &Arc<Reached>,
) -> Router {
    let saying = Saying {
        workspace: workspace.clone(),
        languages,
    };
    let packed = SizeAbove::new(WORTH_PACKING)
        .and(NotForContentType::new("audio/"))
        .and(NotForContentType::new("image/"))
        // Packing would hold events back.
        .and(NotForContentType::SSE);
    let inner = ServiceBuilder::new()
        .layer(from_fn_with_state(Arc::clone(reached), way::find))
        .layer(from_fn_with_state(workspace, note_other_sites))
        .layer(CompressionLayer::new().compress_when(packed))
        .layer(from_fn_with_state(saying, listeners_words::say))
        .layer(CatchPanicLayer::custom(after_panic))
        .layer(from_fn(in_time))
        .layer(from_other_sites(reached));
    let mut routes = routes.layer(inner);
    for (name, value) in USUAL_HEADERS {
        let value = HeaderValue::from_static(value);
        routes = routes.layer(SetResponseHeaderLayer::if_not_present(name, value));
    }
    routes.layer(TraceLayer::new_for_http().make_span_with(span))
}

/// An answer that takes too long is given up; what brings recordings, or looks through all of a study's files for a child,
/// may take longer.
async fn in_time(request: Request, next: Next) -> Response {
    let route = request.extensions().get::<MatchedPath>();
    let brings_files = route.is_some_and(|route| {
        let path = route.as_str();
        let ends = ["/files", "/part", "/recording"];
        let imports = path.starts_with("/desk/import/");
        let searches = path == "/desk/children/{child}/withdraw";
        path == "/desk/before/test"
            || searches
            || imports && ends.iter().any(|end| path.ends_with(end))
    });
    let patience = if brings_files {
        PATIENCE_WITH_UPLOADS
    } else {
        PATIENCE
    };
    let answer = tokio::time::timeout(patience, next.run(request)).await;
    answer.unwrap_or_else(|_| WebError::TooSlow.into_response())
}

/// Refuses forms of other sites. A proxy may ask for this server under another name than the browser did: then the
/// origin that people are given counts as this site.
fn from_other_sites(reached: &Reached) -> CsrfLayer<fn(ProtectionError) -> Response> {
    let mut layer = CsrfLayer::new();
    let public = reached.public_url.as_deref().map(origin_of);
    if let Some(Ok(trusting)) = public.map(|origin| layer.clone().add_trusted_origin(origin)) {
        layer = trusting;
    }
    layer.with_rejection_response(|_| WebError::OtherSite.into_response())
}

/// Tells the log of a form that another site sent; so many times, however many come.
async fn note_other_sites(
    State(workspace): State<Workspace>,
    way: Way,
    request: Request,
    next: Next,
) -> Response {
    let answer = next.run(request).await;
    if answer.extensions().get::<ProtectionError>().is_some() {
        tracing::warn!("a form of another site was refused");
        let noted = tokio::task::spawn_blocking(move || {
            accounts::note_stranger(&workspace, Stranger::OtherSite, way.from, Now::read())
        });
        if let Ok(Err(error)) = noted.await {
            tracing::error!(?error, "a refusal could not be told to the log");
        }
    }
    answer
}

/// The scheme, host and port of an address.
fn origin_of(url: &str) -> &str {
    let after_scheme = url.find("://").map_or(0, |at| at + 3);
    let rest = url.get(after_scheme..).unwrap_or_default();
    let host = rest.find('/').unwrap_or(rest.len());
    url.get(..after_scheme + host).unwrap_or(url)
}

/// The route as it is written here, never the address: an address can hold an invitation's secret.
fn span(request: &Request) -> tracing::Span {
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or("none", MatchedPath::as_str);
    tracing::info_span!("request", method = %request.method(), route)
}

fn after_panic(_: Box<dyn Any + Send>) -> Response {
    WebError::Panicked.into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_origin_is_an_address_without_its_path() {
        for (url, origin) in [
            ("https://rating.example", "https://rating.example"),
            (
                "https://rating.example:8443/study",
                "https://rating.example:8443",
            ),
        ] {
            assert_eq!(origin_of(url), origin);
        }
    }
}
