//! Who may come in: staff who are signed in, from this machine, or from beyond it over a safe way where the server was
//! told to let them. For everybody else there is nothing here.

use axum::extract::MatchedPath;
use axum::extract::Request;
use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use axum_extra::extract::CookieJar;

use super::Desk;
use crate::app::Now;
use crate::app::accounts;
use crate::web::WebError;
use crate::web::way::Way;

/// The cookie's name where the way is safe: the prefix binds it to this very host, so that no neighbour can set it.
const SAFE_NAME: &str = "__Host-desk";

/// And on this machine without TLS, where some browsers take no cookie of the other kind.
const PLAIN_NAME: &str = "desk";

/// The secret in the cookie of a browser that is signed in.
#[derive(Clone)]
pub(super) struct SessionSecret(pub(super) String);

/// Lets in requests from this machine, and from beyond it where both the server's options and the way allow it.
pub(super) async fn reachable_only(
    State(desk): State<Desk>,
    request: Request,
    next: Next,
) -> Result<Response, WebError> {
    let way = request.extensions().get::<Way>();
    let may = way
        .is_some_and(|way| way.this_machine || (desk.site.reached.desk_from_outside && way.safe));
    if may {
        Ok(next.run(request).await)
    } else {
        Err(WebError::NotFound)
    }
}

/// Lets in whoever is signed in, and shows everybody else where to sign in.
pub(super) async fn signed_in_only(
    State(desk): State<Desk>,
    way: Way,
    jar: CookieJar,
    mut request: Request,
    next: Next,
) -> Result<Response, WebError> {
    let Some(secret) = secret_in(&jar, &way) else {
        return Ok(Redirect::to("/desk/sign-in").into_response());
    };
    let person = desk
        .act({
            let secret = secret.clone();
            move |workspace| accounts::whose_session(workspace, &secret, Now::read())
        })
        .await?;
    let Some(person) = person else {
        return Ok(Redirect::to("/desk/sign-in").into_response());
    };
    request.extensions_mut().insert(person);
    request.extensions_mut().insert(SessionSecret(secret));
    Ok(next.run(request).await)
}

/// Tells the log of what a signed-in person was refused; the answer stays as it is.
pub(super) async fn note_refusals(
    State(desk): State<Desk>,
    person: crate::app::Person,
    route: MatchedPath,
    request: Request,
    next: Next,
) -> Result<Response, WebError> {
    let answer = next.run(request).await;
    if answer.extensions().get::<Refused>().is_some() {
        let route = route.as_str().to_owned();
        tracing::warn!(account = person.code, route, "access refused");
        desk.act(move |workspace| accounts::note_refused(workspace, &person, &route, Now::read()))
            .await?;
    }
    Ok(answer)
}

/// Marks an answer that refused what is not for this person.
#[derive(Clone, Copy)]
pub(super) struct Refused;

/// The answer to somebody who asks for a page that is not for her role.
pub(super) fn not_for_this_role() -> Response {
    marked(WebError::NotAllowed)
}

/// The answer to a clinician who asks for a child that is not hers: the same as for a child that is not there.
pub(super) fn not_for_this_person() -> Response {
    marked(WebError::NotFound)
}

fn marked(error: WebError) -> Response {
    let mut answer = error.into_response();
    answer.extensions_mut().insert(Refused);
    answer
}

/// The secret in the cookie; only the cookie counts that fits the way.
pub(super) fn secret_in(jar: &CookieJar, way: &Way) -> Option<String> {
    Some(jar.get(name_on(way))?.value().to_owned())
}

/// Lets the browser in: its cookie and the way to the desk. Out of reach for scripts, sent to this host alone, and
/// gone when the browser closes.
pub(super) fn let_in(secret: &str, way: &Way) -> Response {
    let set = format!("{}={secret}; {}", name_on(way), attributes(way));
    ([(SET_COOKIE, set)], Redirect::to("/desk")).into_response()
}

/// Takes the cookie away.
pub(super) fn let_out(way: &Way) -> Response {
    let set = format!("{}=; Max-Age=0; {}", name_on(way), attributes(way));
    ([(SET_COOKIE, set)], Redirect::to("/desk/sign-in")).into_response()
}

const fn name_on(way: &Way) -> &'static str {
    if way.safe { SAFE_NAME } else { PLAIN_NAME }
}

const fn attributes(way: &Way) -> &'static str {
    if way.safe {
        "Path=/; HttpOnly; SameSite=Lax; Secure"
    } else {
        "Path=/desk; HttpOnly; SameSite=Lax"
    }
}
