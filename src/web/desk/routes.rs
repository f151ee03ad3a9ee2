//! The one table of the staff's pages: a route cannot be added without saying who may use it.

use axum::Router;
use axum::extract::Request;
use axum::handler::Handler;
use axum::http::Method;
use axum::middleware::Next;
use axum::middleware::from_fn;
use axum::response::Response;
use axum::routing::MethodFilter;
use axum::routing::MethodRouter;
use axum::routing::get;
use axum::routing::on;

use super::Desk;
use super::door::not_for_this_role;
use crate::app::Person;
use crate::study::Role;

/// The roles that may use a route.
pub(super) type Who = &'static [Role];

/// Who sees and does everything.
pub(super) const RESEARCHERS: Who = &[Role::Researcher];

/// Who works with recordings and tokens, and sees neither listeners nor results.
pub(super) const PREPARERS: Who = &[Role::Researcher, Role::Preparer];

/// Who decides from what was heard: a clinician is shown her own children alone.
pub(super) const CLINIC: Who = &[Role::Researcher, Role::Clinician];

/// Everybody who is signed in; a clinician is shown her own children alone.
pub(super) const EVERYBODY: Who = Role::ALL;

/// One route of the staff's pages, and who may use it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeskRoute {
    /// The method, such as `GET`.
    pub method: Method,
    /// The path as the router knows it, such as `/desk/rounds/{round}`.
    pub path: &'static str,
    /// The roles that may use it; `None` for what comes before signing in.
    pub who: Option<Who>,
}

/// The routes with their table.
#[derive(Default)]
pub(super) struct Routes {
    /// Each route once, in the order of adding.
    pub(super) table: Vec<DeskRoute>,
    /// What only those who are signed in reach.
    pub(super) inside: Router<Desk>,
    /// What comes before.
    pub(super) outside: Router<Desk>,
}

impl Routes {
    /// A page that these roles may see.
    pub(super) fn get<H, T>(self, path: &'static str, who: Who, handler: H) -> Self
    where
        H: Handler<T, Desk>,
        T: 'static,
    {
        self.route(Method::GET, path, who, on(MethodFilter::GET, handler))
    }

    /// A form that these roles may send.
    pub(super) fn post<H, T>(self, path: &'static str, who: Who, handler: H) -> Self
    where
        H: Handler<T, Desk>,
        T: 'static,
    {
        self.route(Method::POST, path, who, on(MethodFilter::POST, handler))
    }

    /// A route with layers of its own, a longer body say; `handler` answers `method` alone.
    pub(super) fn route(
        mut self,
        method: Method,
        path: &'static str,
        who: Who,
        handler: MethodRouter<Desk>,
    ) -> Self {
        let guard = move |person: Person, request: Request, next: Next| {
            only_for(who, person, request, next)
        };
        self.inside = self.inside.route(path, handler.route_layer(from_fn(guard)));
        self.table.push(DeskRoute {
            method,
            path,
            who: Some(who),
        });
        self
    }

    /// A page that needs no signing in, and its form.
    pub(super) fn before<G, T, P, U>(mut self, path: &'static str, page: G, form: P) -> Self
    where
        G: Handler<T, Desk>,
        T: 'static,
        P: Handler<U, Desk>,
        U: 'static,
    {
        self.outside = self.outside.route(path, get(page).post(form));
        for method in [Method::GET, Method::POST] {
            self.table.push(DeskRoute {
                method,
                path,
                who: None,
            });
        }
        self
    }
}

/// Lets the roles of a route pass, and nobody else.
async fn only_for(who: Who, person: Person, request: Request, next: Next) -> Response {
    if who.contains(&person.role) {
        next.run(request).await
    } else {
        not_for_this_role()
    }
}
