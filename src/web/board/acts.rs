//! What forms do. Each becomes one action of the desk, the same that a text or a button in chat would be; a form that is
//! sent twice does it once.

use axum::extract::{Extension, Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::context;

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::act::{Action, HandTo, Meant, Outcome, Via};
use crate::desk::board::today::taken_item;
use crate::trade::flag::{Flag, Flags};
use crate::trade::roster::{AthleteId, StaffId};

/// Longest that somebody may say was done or is needed.
const LONGEST: usize = 80;

/// A form's fields, as they came.
pub struct Fields(Vec<(String, String)>);

impl Fields {
    fn get(&self, name: &str) -> Option<&str> {
        self.0.iter().find(|(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
    }

    fn words(&self, name: &str) -> Option<String> {
        self.get(name).map(|words| words.chars().filter(|c| !c.is_control()).take(LONGEST).collect())
    }

    /// The flags that are ticked. A name that is none counts as nothing ticked at all: it is no form of ours.
    fn flags(&self) -> Option<Flags> {
        let ticked = self.0.iter().filter(|(name, _)| name == "flag");
        let flags: Option<Vec<Flag>> = ticked.map(|(_, value)| Flag::from_name(value)).collect();
        flags.filter(|flags| !flags.is_empty()).map(|flags| flags.into_iter().collect())
    }

    /// Where to go afterwards: a page of the board and nowhere else.
    fn back(&self) -> &str {
        let inside = |back: &&str| *back == "/board" || back.starts_with("/board/") || back.starts_with("/board?");
        self.get("back").filter(inside).unwrap_or("/board")
    }
}

/// What helmet staff do.
pub async fn act(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let fields = Fields(fields);
    let action = helmet_action(&fields);
    run(&board, &visitor, &fields, action).await
}

/// What the athletic trainer does besides.
pub async fn trainer_act(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let fields = Fields(fields);
    let action = trainer_action(&fields).or_else(|| helmet_action(&fields));
    run(&board, &visitor, &fields, action).await
}

fn helmet_action(fields: &Fields) -> Option<Action> {
    if let Some(take) = fields.get("take") {
        let day = fields.get("day").and_then(|day| day.parse().ok());
        return Some(Action::Take { item: taken_item(take, day) });
    }
    let item = || fields.get("item").map(ToOwned::to_owned);
    Some(match fields.get("do")? {
        "take" => Action::Take { item: item()? },
        "done" => Action::Done { item: item()?, what: fields.words("other").or_else(|| fields.words("done")) },
        "needs" => Action::Needs { item: item()?, what: fields.words("needs")? },
        "hand_on" => {
            let to = fields.get("to").map_or(HandTo::Open, |to| HandTo::Staff(StaffId::from(to)));
            Action::HandOn { item: item()?, to }
        }
        "report" => Action::Report { athlete: AthleteId::from(fields.get("athlete")?), flags: fields.flags()? },
        "hold" => Action::HoldEquipment { athlete: AthleteId::from(fields.get("athlete")?) },
        _ => return None,
    })
}

fn trainer_action(fields: &Fields) -> Option<Action> {
    let item = || fields.get("item").map(ToOwned::to_owned);
    let athlete = || fields.get("athlete").map(AthleteId::from);
    Some(match fields.get("do")? {
        "may_go" => Action::MayGo { item: item()? },
        "meant" => Action::Interpret { item: item()?, reading: Meant::Flags(fields.flags()?) },
        "meant_clear" => Action::Interpret { item: item()?, reading: Meant::AllClear },
        "hold_trainer" => Action::HoldTrainer { athlete: athlete()? },
        "hold_medical" => Action::HoldMedical { athlete: athlete()? },
        _ => return None,
    })
}

/// The form's natural key: whose session, which state of the page, what, about whom. Sent twice, it is one happening.
fn key(visitor: &Visitor, fields: &Fields) -> String {
    let session: String = visitor.who.session.chars().take(16).collect();
    let seen = fields.get("seen").unwrap_or("0");
    let what = fields.get("do").unwrap_or("take");
    let about = fields.get("take").or_else(|| fields.get("item")).or_else(|| fields.get("athlete")).unwrap_or_default();
    format!("board/{session}/{seen}/{what}/{about}")
}

async fn run(board: &Board, visitor: &Visitor, fields: &Fields, action: Option<Action>) -> Result<Response, Failed> {
    let Some(action) = action else {
        let text = "Something in the form was left out, or is none of ours. Nothing was changed.";
        return notice(board, visitor, fields, StatusCode::UNPROCESSABLE_ENTITY, text);
    };
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let outcome = board.desk.act(&who.program, &who.member.id, &action, &key(visitor, fields), Via::Board, now).await?;
    board.shared.forget(&who.program);
    match outcome {
        Outcome::Done { .. } => Ok(Redirect::to(fields.back()).into_response()),
        Outcome::AlreadyDone { who, by } => {
            let by = by.map(|by| format!(" {by} has it or did it.")).unwrap_or_default();
            notice(
                board,
                visitor,
                fields,
                StatusCode::CONFLICT,
                &format!("{who}: that is so already.{by} Nothing was changed."),
            )
        }
        Outcome::NotAllowed => {
            notice(board, visitor, fields, StatusCode::FORBIDDEN, "Your role may not do that. Nothing was changed.")
        }
        Outcome::NotFound => {
            notice(board, visitor, fields, StatusCode::NOT_FOUND, "That is not open any more. Nothing was changed.")
        }
        Outcome::Medical { who } => {
            let text =
                format!("{who} stays held: a medical hold ends only with a licensed clinician's recorded decision.");
            notice(board, visitor, fields, StatusCode::CONFLICT, &text)
        }
    }
}

fn notice(
    board: &Board,
    visitor: &Visitor,
    fields: &Fields,
    status: StatusCode,
    text: &str,
) -> Result<Response, Failed> {
    let values = context! {
        title => "Nothing was changed",
        text,
        back => fields.back(),
        ..super::pages::frame(board, visitor, "")
    };
    Ok((status, board.render("notice.html", values)?).into_response())
}
