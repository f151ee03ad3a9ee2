//! Refusals that no page of a listener made, such as that nothing is at an address: where a listener may meet one, it is
//! said in the language of the study.

use std::sync::Arc;

use axum::extract::Request;
use axum::extract::State;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Response;

use super::error::Refusal;
use super::languages::Languages;
use crate::app::Workspace;

/// How the addresses begin that no listener is given.
const OF_NO_LISTENER: [&str; 5] = ["/desk", "/page/", "/reach/", "/assets/", "/health"];

/// What is needed to say something to a listener.
#[derive(Clone)]
pub(super) struct Saying {
    pub(super) workspace: Workspace,
    pub(super) languages: Arc<Languages>,
}

/// Puts a refusal into the language of the study; what staff meet stays as it is.
pub(super) async fn say(State(saying): State<Saying>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let of_no_listener = OF_NO_LISTENER.iter().any(|begin| path.starts_with(begin));
    let headers = request.headers().clone();
    let response = next.run(request).await;
    let refusal = response.extensions().get::<Refusal>().copied();
    let Some(refusal) = refusal.filter(|_| !of_no_listener) else {
        return response;
    };
    let language = saying.languages.of_study(&saying.workspace, &headers).await;
    let Ok(page) = refusal.page(language) else {
        return response;
    };
    let (parts, _) = response.into_parts();
    let mut said = (parts.status, page).into_response();
    *said.extensions_mut() = parts.extensions;
    said
}

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::body::Body;
    use axum::body::to_bytes;
    use axum::middleware::from_fn_with_state;
    use axum::routing::get;
    use tower::Service;

    use super::*;
    use crate::app::Now;
    use crate::web::WebError;

    async fn told(routes: &Router, path: &str) -> String {
        let request = Request::get(path).body(Body::empty()).unwrap();
        let response = routes.clone().call(request).await.unwrap();
        let body = to_bytes(response.into_body(), usize::MAX).await.unwrap();
        String::from_utf8(body.to_vec()).unwrap()
    }

    #[tokio::test]
    async fn what_is_slow_too_much_or_our_fault_is_told_to_listeners_in_their_language() {
        let folder = tempfile::tempdir().unwrap();
        let workspace = Workspace::make(folder.path(), Now::at_ms(0)).unwrap();
        let settings = folder.path().join("study.toml");
        let text = std::fs::read_to_string(&settings).unwrap();
        let spanish = text.replace("language = \"en\"", "language = \"es\"");
        std::fs::write(&settings, spanish).unwrap();
        let languages = Arc::new(Languages::load(&workspace).unwrap());
        let saying = Saying {
            workspace,
            languages,
        };
        let routes = Router::new()
            .route("/listen/slow", get(|| async { WebError::TooSlow }))
            .route("/listen/large", get(|| async { WebError::TooLarge }))
            .route("/listen/panics", get(|| async { WebError::Panicked }))
            .route("/desk/panics", get(|| async { WebError::Panicked }))
            .layer(from_fn_with_state(saying, say));
        for (path, said) in [
            ("/listen/slow", "Esto tardó demasiado"),
            ("/listen/large", "Esto es demasiado de una vez"),
            ("/listen/panics", "La culpa es nuestra, no suya"),
            ("/desk/panics", "It is our fault, not yours"),
        ] {
            let page = told(&routes, path).await;
            assert!(page.contains(said), "{path}: {page}");
        }
    }
}
