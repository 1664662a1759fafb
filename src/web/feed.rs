//! The calendar feed: RFC 5545, read by the calendar of a member of staff at an address that nobody can guess.

use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use chrono::TimeDelta;
use icalendar::{Calendar, Component as _, Event, EventLike as _, Property};

use super::board::Board;
use crate::desk::feed::FeedView;
use crate::desk::sign_in::hash;
use crate::trade::coming::{Coming, On};
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// Gives a feed to whoever has its address.
pub async fn show(State(board): State<Board>, Path((program, file)): Path<(String, String)>) -> Response {
    let unknown = || (StatusCode::NOT_FOUND, "no such calendar; make a new address on the board\n").into_response();
    let Some(token) = file.strip_suffix(".ics") else { return unknown() };
    let now = board.desk().clock().now();
    match board.desk().feed(&ProgramId(program.clone()), &hash(token), now).await {
        Ok(Some(view)) => {
            let headers = [
                (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
                (header::CONTENT_DISPOSITION, "inline; filename=\"browline.ics\""),
            ];
            (headers, calendar(&program, &view, now)).into_response()
        }
        Ok(None) => unknown(),
        Err(error) => {
            tracing::error!(%error, "a calendar feed cannot be made");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

/// A calendar of RFC 5545: all-day entries for days, UTC times for moments, so that it needs no zone definitions.
#[must_use]
pub fn calendar(program: &str, view: &FeedView, now: Moment) -> String {
    let mut calendar = Calendar::empty();
    calendar
        .append_property(Property::new("PRODID", "-//Browline//calendar feed//EN"))
        .append_property(Property::new("VERSION", "2.0"))
        .append_property(Property::new("CALSCALE", "GREGORIAN"))
        .append_property(Property::new("METHOD", "PUBLISH"))
        .append_property(Property::new("NAME", plain(&view.program)).add_parameter("VALUE", "TEXT").done())
        // RFC 7986 section 5.7.
        .append_property(Property::new("REFRESH-INTERVAL", "PT1H").add_parameter("VALUE", "DURATION").done());
    for coming in &view.coming {
        calendar.push(entry(program, coming, now));
    }
    folded(&calendar.to_string())
}

/// The same lines, folded anew: the crate leaves a last part of 75 octets, which is 76 with the space before it.
fn folded(text: &str) -> String {
    /// RFC 5545 section 3.1: without the line break.
    const MOST_OCTETS: usize = 75;
    let mut out = String::with_capacity(text.len() + 64);
    for line in text.replace("\r\n ", "").split_terminator("\r\n") {
        let mut octets = 0;
        for c in line.chars() {
            if octets + c.len_utf8() > MOST_OCTETS {
                out.push_str("\r\n ");
                octets = 1;
            }
            out.push(c);
            octets += c.len_utf8();
        }
        out.push_str("\r\n");
    }
    out
}

fn entry(program: &str, coming: &Coming, now: Moment) -> Event {
    let mut event = Event::new();
    event
        .uid(&format!("{}@{program}.browline", plain(&coming.key)))
        .timestamp(now.utc())
        .summary(&plain(&coming.title));
    if !coming.what.is_empty() {
        event.description(&lines(&coming.what));
    }
    if let Some(place) = &coming.place {
        event.location(&plain(place));
    }
    // It blocks nobody's day: what is to be done on a day is no appointment.
    match coming.on {
        On::Day(date) => event.all_day(date).add_property("TRANSP", "TRANSPARENT"),
        On::At(at, end) => {
            // Without an end RFC 5545 section 3.6.1 gives it none at all; calendars show that badly.
            let end = end.filter(|end| *end > at).unwrap_or(at.plus(TimeDelta::hours(1)));
            event.starts(at.utc()).ends(end.utc())
        }
    };
    event.add_property("CATEGORIES", coming.area.name().to_uppercase());
    event.done()
}

/// One line, without control characters.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// Lines, without other control characters.
fn lines(text: &str) -> String {
    text.chars().filter(|c| *c == '\n' || !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::coming::Area;
    use chrono::NaiveDate;

    fn coming(title: &str, on: On) -> Coming {
        let (key, what) = ("ship/2026-12-01".to_owned(), "H-12, H-14; pack\nin boxes".to_owned());
        Coming {
            key,
            area: Area::Helmet,
            on,
            title: title.to_owned(),
            what,
            place: None,
            staff: Vec::new(),
            medical: false,
        }
    }

    fn written(coming: Vec<Coming>) -> String {
        let view = FeedView { program: "Larkspur Valley, Kestrels".into(), zone: chrono_tz::America::Chicago, coming };
        calendar("larkspur", &view, Moment::parse("2026-11-01T12:00:00Z").unwrap())
    }

    #[test]
    fn a_day_is_a_date_and_a_moment_is_utc() {
        let day = On::Day(NaiveDate::from_ymd_opt(2026, 12, 1).unwrap());
        let at = On::At(Moment::parse("2026-12-01T21:30:00Z").unwrap(), None);
        let text = written(vec![coming("Ship 14 helmets", day), coming("Count kit 2", at)]);
        for line in [
            "BEGIN:VCALENDAR\r\nPRODID:",
            "DTSTART;VALUE=DATE:20261201\r\n",
            "DTSTART:20261201T213000Z\r\n",
            "DTEND:20261201T223000Z\r\n",
            "DTSTAMP:20261101T120000Z\r\n",
            "UID:ship/2026-12-01@larkspur.browline\r\n",
            "DESCRIPTION:H-12\\, H-14\\; pack\\nin boxes\r\n",
            "NAME;VALUE=TEXT:Larkspur Valley\\, Kestrels\r\n",
        ] {
            assert!(text.contains(line), "{line:?} in {text}");
        }
    }

    /// RFC 5545 section 3.1: lines end with CR LF and have at most 75 octets, and no character is torn.
    #[test]
    fn long_lines_are_folded_between_characters() {
        let at = On::At(Moment::from_millis(0), None);
        for length in 1..200 {
            let text = written(vec![coming(&"é".repeat(length), at)]);
            assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains(['\n', '\r'])), "{length}");
        }
        let text = written(vec![coming(&"Ñandú ".repeat(60), at)]);
        assert!(text.replace("\r\n ", "").contains(&"Ñandú ".repeat(60)));
    }
}
