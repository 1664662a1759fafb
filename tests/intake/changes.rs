//! What an import would change.

use browline::intake::{Dataset, changes};

use crate::support::{School, calendar, entry};

const ATHLETES: &str = "first,last,team,jersey,phone,consent_by,consent_standing,consent_date,consent_how\n\
    Jonah,Vega,varsity,12,3125550100,Rosa Vega,guardian,2026-08-03,signed form\n\
    Eli,Vega,jv,4,3125550100,Rosa Vega,guardian,2026-08-03,signed form\n";

fn week() -> String {
    let rule = "DTSTART;TZID=America/Chicago:20260824T153000\nDTEND;TZID=America/Chicago:20260824T173000\nRRULE:FREQ=WEEKLY;COUNT=3\nSUMMARY:Practice";
    calendar(&entry("week@example.com", rule))
}

#[test]
fn the_same_folder_again_changes_nothing() {
    let school = School::default();
    let data = school.read(&[("athletes.csv", ATHLETES), ("varsity.ics", &week())]);
    let first = changes(&Dataset::default(), &data);
    assert_eq!((first.athletes.added.len(), first.events.added.len(), first.consents.added.len()), (2, 3, 2));
    let second = changes(&data, &data);
    assert!(second.is_empty());
    assert_eq!(second.to_string(), "nothing changed\n");
    assert_eq!((second.athletes.unchanged, second.events.unchanged), (2, 3));
}

#[test]
fn a_changed_row_updates_and_a_row_that_is_gone_is_told() {
    let school = School::default();
    let stored = school.read(&[("athletes.csv", ATHLETES)]);
    let text = "first,last,team,jersey,phone\nJonah,Vega,varsity,21,3125550104\n";
    let told = changes(&stored, &school.read(&[("athletes.csv", text)]));
    assert_eq!(told.athletes.updated[0].fields, ["jersey", "phone"]);
    assert_eq!(told.athletes.gone[0].id.as_str(), "eli-vega-jv");
    // Consent was for the former number; the athlete who is gone is not spoken of.
    assert_eq!(told.consents.gone.len(), 1);
    assert!(!told.is_empty());
    let words = told.to_string();
    assert!(words.contains("~ Jonah Vega (varsity): jersey, phone"), "{words}");
    assert!(words.contains("- Eli Vega (jv): no longer in the files; kept"), "{words}");
    assert!(!words.contains("5550104") && !words.contains("5550100"), "{words}");
}

#[test]
fn what_no_file_speaks_of_is_not_gone() {
    let school = School::default();
    let stored = school.read(&[("athletes.csv", ATHLETES), ("varsity.ics", &week())]);
    let told = changes(&stored, &school.read(&[("staff.csv", "first,last,roles\nDana,Okafor,trainer\n")]));
    assert!(told.athletes.gone.is_empty() && told.consents.gone.is_empty() && told.events.gone.is_empty());
    assert_eq!(told.staff.added.len(), 1);
    let other = calendar(&entry("other@example.com", "DTSTART:20260901T153000\nSUMMARY:Practice"));
    let told = changes(&stored, &school.read(&[("jv.ics", &other)]));
    assert!(told.events.gone.is_empty());
    assert_eq!(told.events.added.len(), 1);
}

#[test]
fn an_occurrence_that_left_its_series_is_cancelled_and_a_lost_series_is_told() {
    let school = School::default();
    let stored = school.read(&[("varsity.ics", &week())]);
    let without = week().replace("SUMMARY", "EXDATE;TZID=America/Chicago:20260831T153000\r\nSUMMARY");
    let told = changes(&stored, &school.read(&[("varsity.ics", &without)]));
    assert_eq!(told.events.updated.len(), 1);
    let update = &told.events.updated[0];
    assert_eq!(
        (update.new.id.as_str(), update.fields.as_slice()),
        ("week@example.com/20260831", ["cancelled"].as_slice())
    );
    assert!(update.new.cancelled && told.events.gone.is_empty());

    let other = calendar(&entry("other@example.com", "DTSTART:20260901T153000\nSUMMARY:Practice"));
    let told = changes(&stored, &school.read(&[("varsity.ics", &other)]));
    assert_eq!((told.events.gone.len(), told.events.updated.len(), told.events.added.len()), (3, 0, 1));

    // A file under a new name still has the series.
    let told = changes(&stored, &school.read(&[("kestrels-varsity.ics", &without)]));
    assert!(told.events.updated.iter().any(|update| update.new.cancelled));

    // Cancelled once, it is not cancelled again.
    let mut after = stored.clone();
    after.events[1].cancelled = true;
    assert!(changes(&after, &school.read(&[("varsity.ics", &without)])).is_empty());
}

#[test]
fn a_moved_occurrence_and_a_moved_series_keep_their_identity() {
    let school = School::default();
    let stored = school.read(&[("varsity.ics", &week())]);
    let moved = entry(
        "week@example.com",
        "RECURRENCE-ID;TZID=America/Chicago:20260831T153000\nDTSTART;TZID=America/Chicago:20260901T060000\nSUMMARY:Practice",
    );
    let text = week().replace("END:VCALENDAR", &format!("{moved}\nEND:VCALENDAR"));
    let told = changes(&stored, &school.read(&[("varsity.ics", &text)]));
    assert_eq!(told.events.updated.len(), 1, "{told}");
    assert_eq!(told.events.updated[0].new.starts_at.to_string(), "2026-09-01T11:00:00Z");
    assert_eq!(told.events.updated[0].fields, ["starts_at", "ends_at", "date"]);

    let later = week().replace("T153000", "T160000").replace("T173000", "T180000");
    let told = changes(&stored, &school.read(&[("varsity.ics", &later)]));
    assert_eq!((told.events.updated.len(), told.events.added.len()), (3, 0));
}

#[test]
fn what_has_begun_and_what_staff_texted_is_left_alone() {
    let mut school = School::default();
    let stored = school.read(&[("varsity.ics", &week())]);
    school.now = browline::trade::time::Moment::parse("2026-08-25T12:00:00Z").unwrap();
    let moved = week().replace("SUMMARY:Practice", "SUMMARY:Film\r\nEXDATE;TZID=America/Chicago:20260824T153000");
    let told = changes(&stored, &school.read(&[("varsity.ics", &moved)]));
    // The first has begun: neither cancelled nor changed. The other two are without helmets now.
    assert_eq!(told.events.updated.len(), 2, "{told}");
    assert!(told.events.updated.iter().all(|update| update.fields == ["helmets"]));

    // Changed and not removed, the one that has begun is left as it was too.
    let film = week().replace("SUMMARY:Practice", "SUMMARY:Film");
    assert_eq!(changes(&stored, &school.read(&[("varsity.ics", &film)])).events.updated.len(), 2);
    // Put off to a time that is still to come, it is told.
    let change = "RECURRENCE-ID;TZID=America/Chicago:20260824T153000\nDTSTART;TZID=America/Chicago:20260825T153000\nSUMMARY:Practice";
    let put_off = week().replace("END:VCALENDAR", &format!("{}\nEND:VCALENDAR", entry("week@example.com", change)));
    let told = changes(&stored, &school.read(&[("varsity.ics", &put_off)]));
    assert_eq!(told.events.updated[0].new.starts_at.to_string(), "2026-08-25T20:30:00Z", "{told}");

    let mut texted = stored.clone();
    texted.events[1].cancelled = true;
    "text".clone_into(&mut texted.events[1].source);
    let told = changes(&texted, &school.read(&[("varsity.ics", &week())]));
    assert!(told.is_empty(), "{told}");
    assert_eq!(told.kept.len(), 1);
    assert!(told.to_string().contains("kept as staff texted it"));
}

/// A file that holds only a change to one occurrence, or the series without its time, does not tell the others.
#[test]
fn part_of_a_series_does_not_cancel_the_rest() {
    let school = School::default();
    let stored = school.read(&[("varsity.ics", &week())]);
    let change = "RECURRENCE-ID;TZID=America/Chicago:20260831T153000\nDTSTART;TZID=America/Chicago:20260831T160000\nSTATUS:CANCELLED";
    let part = calendar(&entry("week@example.com", change));
    let told = changes(&stored, &school.read(&[("varsity.ics", &part)]));
    assert_eq!((told.events.updated.len(), told.events.gone.len()), (1, 2), "{told}");
    assert_eq!(told.events.updated[0].new.id.as_str(), "week@example.com/20260831");
    let timeless = calendar(&entry("week@example.com", "DTSTART;VALUE=DATE:20260824\nRRULE:FREQ=WEEKLY;COUNT=3"));
    let told = changes(&stored, &school.read(&[("varsity.ics", &timeless)]));
    assert_eq!((told.events.updated.len(), told.events.gone.len()), (0, 3), "{told}");
}
