//! What a form of the desk sent.

use axum::Form;
use axum::extract::FromRequest;
use axum::extract::Request;
use axum::http::StatusCode;

use crate::web::WebError;

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
