//! A team's list of today, whole, behind the link that staff get by text. Nothing medical is on it, nothing can be done on
//! it, and the link is of no use the day after.

use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use chrono::NaiveDate;
use minijinja::{Environment, context};

use super::Web;
use crate::trade::roster::{ProgramId, TeamId};

const PAGE: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\">\
<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><meta name=\"robots\" content=\"noindex\">\
<title>Today</title><style>:root{color-scheme:light dark}body{font:18px/1.5 system-ui,sans-serif;margin:1rem}\
pre{font:inherit;white-space:pre-wrap;overflow-wrap:anywhere}footer{border-top:1px solid;margin-top:1rem}</style>\
<main><pre>{{ today }}</pre></main><footer>A self-check supplements a hands-on fitting by trained staff and never replaces \
it. No helmet prevents all head or neck injury. The helmet maker's instructions, local law and licensed clinicians come \
first.</footer></html>";

/// Shows the list, when the link is right and of today.
pub async fn show(
    State(web): State<Web>,
    Path((program, team, date, mark)): Path<(String, String, NaiveDate, String)>,
) -> Response {
    let (program, team) = (ProgramId(program), TeamId(team));
    let now = web.desk.clock().now();
    let known = web
        .desk
        .program(&program)
        .is_ok_and(|settings| settings.is_list_mark(&team, date, &mark) && now.date(settings.zone) == date);
    if !known {
        return (StatusCode::NOT_FOUND, "no such list; ask by text: list\n").into_response();
    }
    let page = match web.desk.today(&program, Some(&team), now).await {
        Ok(today) => render(&today.to_string()),
        Err(error) => {
            tracing::error!(%error, "today cannot be put together");
            return StatusCode::INTERNAL_SERVER_ERROR.into_response();
        }
    };
    match page {
        Ok(page) => {
            let headers = [
                (header::CACHE_CONTROL, "no-store"),
                (header::REFERRER_POLICY, "no-referrer"),
                (
                    header::CONTENT_SECURITY_POLICY,
                    "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
                ),
            ];
            (headers, Html(page)).into_response()
        }
        Err(error) => {
            tracing::error!(%error, "the list cannot be rendered");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn render(today: &str) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.add_template("list.html", PAGE)?;
    environment.get_template("list.html")?.render(context! { today })
}
