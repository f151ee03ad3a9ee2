//! What a form of the desk sent, and the lines of long forms: what they ask, what stands in them, what is wrong with it.

// What is compared with what.
pub(super) mod contrast;
mod line;
mod reader;
mod values;

use axum::Form;
use axum::body;
use axum::extract::FromRequest;
use axum::extract::Request;
use axum::http::HeaderMap;
use axum::http::StatusCode;
use axum::http::header::CONTENT_LENGTH;
use axum::http::header::CONTENT_TYPE;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Response;

use crate::web::WebError;

pub(super) use line::Kind;
pub(super) use line::Line;
pub(super) use line::Part;
pub(super) use reader::FieldProblem;
pub(super) use reader::Reader;
pub(super) use reader::sentence;
pub(super) use reader::sentences;
pub(super) use values::Values;

/// The fields of a form in the order in which they came; a name may come several times.
pub(super) struct Filled(Vec<(String, String)>);

impl Filled {
    /// What was entered under a name; nothing where the field is missing.
    pub(super) fn text<'a>(&'a self, name: &'a str) -> &'a str {
        self.all(name).next().unwrap_or_default()
    }

    /// Everything that was entered or chosen under a name.
    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        let fields = self.0.iter().filter(move |(field, _)| field == name);
        fields.map(|(_, value)| value.as_str())
    }

    /// All fields as they came.
    pub(super) fn into_fields(self) -> Vec<(String, String)> {
        self.0
    }
}

impl<S: Send + Sync> FromRequest<S> for Filled {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        match Form::<Vec<(String, String)>>::from_request(request, state).await {
            Ok(Form(fields)) => Ok(Self(fields)),
            Err(refused) if refused.status() == StatusCode::PAYLOAD_TOO_LARGE => {
                Err(WebError::TooLarge)
            }
            Err(_) => Err(WebError::Unreadable),
        }
    }
}

/// The longest form in bytes (ours): a plan with all its texts is far below.
pub(super) const LONGEST_FORM: usize = 64 * 1024;

/// What is read of a form that is too long, so that its sender hears why it was refused (ours).
const READ_AND_DROPPED: usize = 4 * 1024 * 1024;

/// Refuses a form that says itself that it is too long. It is read first: a connection that closes while a browser still sends
/// shows no answer.
pub(super) async fn not_too_long(request: Request, next: Next) -> Response {
    if says_it_is_too_long(request.headers()) {
        let _ = body::to_bytes(request.into_body(), READ_AND_DROPPED).await;
        return WebError::TooLarge.into_response();
    }
    next.run(request).await
}

fn says_it_is_too_long(headers: &HeaderMap) -> bool {
    let header = |name| headers.get(name).and_then(|value| value.to_str().ok());
    let is_form = header(CONTENT_TYPE)
        .is_some_and(|kind| kind.starts_with("application/x-www-form-urlencoded"));
    let length = header(CONTENT_LENGTH).and_then(|length| length.parse().ok());
    is_form && length.is_some_and(|length: usize| length > LONGEST_FORM)
}
