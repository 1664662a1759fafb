//! Simulated staff for a morning that nobody plays along with: the athletic trainer acknowledges a body report once it
//! has been sent again, the equipment managers work down the list that was texted to them. Pure: what they do follows
//! from the texts on their phone.

use chrono::TimeDelta;

use super::crowd::Act;

/// Simulated staff read their first alert with delay: between the second try and the third of the ladder.
const ALERT_SEEN_AFTER: TimeDelta = TimeDelta::seconds(395);
/// Simulated staff look into a kit within this time.
const COUNTS_AFTER: TimeDelta = TimeDelta::minutes(20);
/// Fixes that one pair of hands is seen to do.
const FIXES: usize = 6;

/// What a simulated staff member does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Duty {
    /// Answers body alerts.
    Alerts,
    /// Works on the fix list of this team, as its name stands in texts.
    FixList(String),
}

impl Duty {
    /// What the person does about the text that has just come, given what was there before (oldest first, their own
    /// texts among them).
    #[must_use]
    pub fn answers(&self, before: &[String], text: &str) -> Vec<Act> {
        match self {
            Self::Alerts => alert(text),
            Self::FixList(team) => {
                list(team, before, text).or_else(|| which(team, text)).or_else(|| count(text)).unwrap_or_default()
            }
        }
    }
}

fn act(after: TimeDelta, text: String) -> Act {
    Act { after, text, photo: false }
}

/// "Medical: #31 Mateo, ... Reply got 31 to take it."
fn alert(text: &str) -> Vec<Act> {
    let first = text.starts_with("Medical:") || text.starts_with("EMERGENCY");
    let reply = text.split_once("Reply ").and_then(|(_, rest)| rest.split_once(" to take it"));
    match (first, reply) {
        (true, Some((reply, _))) => vec![act(ALERT_SEEN_AFTER, reply.to_owned())],
        _ => Vec::new(),
    }
}

/// "Still to count: kit 1 (Sideline kit). ... All there? Text: kit 1 ok. Else ...": after a look into the kit.
fn count(text: &str) -> Option<Vec<Act>> {
    let (_, rest) = text.split_once("All there? Text: ")?;
    let (reply, _) = rest.split_once('.')?;
    Some(vec![act(COUNTS_AFTER, reply.to_owned())])
}

/// "Fix list, Varsity practice 3:30 pm: 7 helmets, ..." and a line for each; the first such list of the team counts.
fn list(team: &str, before: &[String], text: &str) -> Option<Vec<Act>> {
    let head = format!("Fix list, {team}");
    if !text.starts_with(&head) {
        return None;
    }
    if before.iter().any(|earlier| earlier.starts_with(&head)) {
        return Some(Vec::new());
    }
    let mut acts = Vec::new();
    for (line, turn) in text.lines().skip(1).filter(|line| line.starts_with('#')).take(FIXES).zip(0..) {
        let Some((number, what)) = line.trim_start_matches('#').split_once(' ') else { continue };
        let begins = TimeDelta::minutes(3 + turn * 8);
        acts.push(act(begins, format!("got {number}")));
        acts.push(act(begins + TimeDelta::minutes(5), format!("{number} {}", outcome(what))));
    }
    Some(acts)
}

/// What becomes of a helmet, by the words of its line.
fn outcome(what: &str) -> &'static str {
    let done: &[(&str, &str)] = &[
        ("shell", "needs new helmet"),
        ("strap", "done new strap"),
        ("mask", "done new screws"),
        ("air", "done aired up"),
        ("cheek", "done new jaw pads"),
    ];
    done.iter().find(|(flag, _)| what.contains(flag)).map_or("done refit", |(_, outcome)| outcome)
}

/// "Which one? 1 #12 Jonah (Varsity) 2 #12 Hugo (JV)": the one of the team.
fn which(team: &str, text: &str) -> Option<Vec<Act>> {
    let options = text.strip_prefix("Which one? ")?;
    let mine = options.find(&format!("({team})"))?;
    let (before, _) = options.get(..mine)?.rsplit_once(" #")?;
    let number = before.rsplit(' ').next()?;
    Some(vec![act(TimeDelta::seconds(20), number.to_owned())])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::flag::{Flag, Flags};
    use crate::trade::roster::Language;
    use crate::wording::{Accents, Attempt, Body, FixLine, Message, Typed, Wording, words};

    fn texts(acts: &[Act]) -> Vec<&str> {
        acts.iter().map(|act| act.text.as_str()).collect()
    }

    fn alert_text(attempt: Attempt) -> String {
        let message = Message::BodyAlert {
            who: "#31 Mateo",
            team: "Varsity",
            time: "6:52 am",
            what: Body([Flag::Symptom].into_iter().collect()),
            words: Some(Typed("my head hurts")),
            red_flag: false,
            attempt,
            phone: None,
            reply: "got 31",
        };
        Wording::embedded().say(Language::En, &message, Accents::Fold)
    }

    #[test]
    fn the_trainer_answers_between_the_second_try_and_the_third() {
        let acts = Duty::Alerts.answers(&[], &alert_text(Attempt::First));
        assert_eq!(texts(&acts), ["got 31"]);
        assert!(acts[0].after > TimeDelta::minutes(5) && acts[0].after < TimeDelta::minutes(10));
        assert_eq!(Duty::Alerts.answers(&[], &alert_text(Attempt::Again)), []);
    }

    fn fix_list() -> String {
        let line = |who, flag: Flag| FixLine {
            who,
            helmet: Some("LV-001"),
            flags: [flag].into_iter().collect::<Flags>(),
            note: None,
        };
        let message = Message::FixList {
            event: "Varsity practice 3:30 pm",
            starts: "2:10 pm",
            hands: 1,
            lines: vec![line("#12 Jonah", Flag::Strap), line("#00 Malik", Flag::Shell), line("#4 Kai", Flag::Grip)],
            not_fit: 0,
            bring: None,
            link: None,
        };
        Wording::embedded().say(Language::En, &message, Accents::Fold)
    }

    #[test]
    fn the_equipment_manager_works_down_the_list_once() {
        let cole = Duty::FixList("Varsity".into());
        let acts = cole.answers(&[], &fix_list());
        let expected = ["got 12", "12 done new strap", "got 00", "00 needs new helmet", "got 4", "4 done refit"];
        assert_eq!(texts(&acts), expected);
        assert!(acts.is_sorted_by_key(|act| act.after));
        assert_eq!(cole.answers(&[fix_list()], &fix_list()), []);
        assert_eq!(Duty::FixList("JV".into()).answers(&[], &fix_list()), []);
    }

    #[test]
    fn a_number_worn_twice_is_told_by_the_team() {
        let options = words::options(&["#12 Jonah (Varsity)", "#12 Hugo (JV)"]);
        let text = Wording::embedded().say(Language::En, &Message::WhichItem { options: &options }, Accents::Fold);
        for (team, number) in [("Varsity", "1"), ("JV", "2")] {
            assert_eq!(texts(&Duty::FixList(team.into()).answers(&[], &text)), [number], "{text}");
        }
    }
}
