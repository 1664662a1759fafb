//! A guardian's own page, behind the link in their e-mail: what they were told, a button to say that they have read it, and
//! one to stop e-mail. Looking changes nothing (mail programs look at links); one POST to `/stop` ends e-mail (RFC 8058).

use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use minijinja::{Environment, context};

use super::Web;
use crate::desk::mail::FamilyPage;
use crate::trade::roster::{GuardianId, Language, ProgramId};

const PAGE: &str = include_str!("../../templates/family.html");

type Link = Path<(String, String, String)>;

/// The page.
pub async fn show(State(web): State<Web>, Path((program, guardian, mark)): Link) -> Response {
    page(&web, &program, &guardian, &mark, None).await
}

/// "I have read it."
pub async fn read(State(web): State<Web>, Path((program, guardian, mark)): Link) -> Response {
    let (id, who) = (ProgramId(program.clone()), GuardianId(guardian.clone()));
    match web.desk.family_read(&id, &who, &mark, web.desk.clock().now()).await {
        Ok(Some(_)) => page(&web, &program, &guardian, &mark, Some(Done::Read)).await,
        Ok(None) => unknown(),
        Err(error) => failed(&error),
    }
}

/// "No more e-mail": by the button, or by a mail program on the reader's behalf.
pub async fn stop(State(web): State<Web>, Path((program, guardian, mark)): Link) -> Response {
    let (id, who) = (ProgramId(program.clone()), GuardianId(guardian.clone()));
    match web.desk.family_stop(&id, &who, &mark, web.desk.clock().now()).await {
        Ok(true) => page(&web, &program, &guardian, &mark, Some(Done::Stopped)).await,
        Ok(false) => unknown(),
        Err(error) => failed(&error),
    }
}

#[derive(Clone, Copy)]
enum Done {
    Read,
    Stopped,
}

async fn page(web: &Web, program: &str, guardian: &str, mark: &str, done: Option<Done>) -> Response {
    let (id, who) = (ProgramId(program.to_owned()), GuardianId(guardian.to_owned()));
    let shown = match web.desk.family_page(&id, &who, mark, web.desk.clock().now()).await {
        Ok(Some(shown)) => shown,
        Ok(None) => return unknown(),
        Err(error) => return failed(&error),
    };
    match render(&shown, &format!("/family/{program}/{guardian}/{mark}"), done) {
        Ok(page) => {
            let headers = [
                (header::CACHE_CONTROL, "no-store"),
                (header::REFERRER_POLICY, "no-referrer"),
                (
                    header::CONTENT_SECURITY_POLICY,
                    "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'",
                ),
            ];
            (headers, Html(page)).into_response()
        }
        Err(error) => failed(&error),
    }
}

fn render(shown: &FamilyPage, address: &str, done: Option<Done>) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.add_template("family.html", PAGE)?;
    environment.get_template("family.html")?.render(context! {
        es => shown.language == Language::Es,
        program => &shown.program,
        first => &shown.first,
        notices => &shown.notices,
        waits => shown.notices.iter().any(|(_, _, waits)| *waits),
        mailed => shown.mailed,
        contact => &shown.contact.0,
        contact_phone => &shown.contact.1,
        address,
        read => matches!(done, Some(Done::Read)),
        stopped => matches!(done, Some(Done::Stopped)),
    })
}

fn unknown() -> Response {
    (StatusCode::NOT_FOUND, "no such page / no existe esta página\n").into_response()
}

fn failed(error: &dyn std::fmt::Display) -> Response {
    tracing::error!(%error, "a family's page failed");
    StatusCode::INTERNAL_SERVER_ERROR.into_response()
}
