//! Spreadsheets as people save them.

use browline::trade::roster::{ConsentBy, DutyDay, EventKind, Language, Role};

use crate::support::School;

const ATHLETES: &str = "first,last,team,jersey,phone,language,born,consent_by,consent_standing,consent_date,consent_how\n\
    Jonah,Vega,varsity,12,(312) 555-0100,en,2009-03-14,Rosa Vega,guardian,2026-08-03,signed form\n\
    Eli,Vega,jv,4,312.555.0100,es,11/2/2010,Rosa Vega,mother,8/3/2026,signed form\n\
    Sam,Ortiz,varsity,7,,,,,,,\n";

#[test]
fn a_roster_reads_as_it_is_meant() {
    let (data, notes) = School::default().read_with_notes(&[("athletes.csv", ATHLETES)]);
    let ids: Vec<_> = data.athletes.iter().map(|athlete| athlete.id.as_str()).collect();
    assert_eq!(ids, ["eli-vega-jv", "jonah-vega-varsity", "sam-ortiz-varsity"]);
    let eli = &data.athletes[0];
    assert_eq!(eli.phone.as_ref().unwrap().as_str(), "+13125550100");
    assert_eq!((eli.language, eli.born.unwrap().to_string()), (Language::Es, "2010-11-02".to_owned()));
    assert_eq!(data.consents.len(), 2);
    assert!(data.consents.iter().all(|consent| consent.standing == ConsentBy::Guardian));
    assert!(data.athletes[2].phone.is_none());
    assert!(notes.iter().any(|note| note.contains("share the number …0100")), "{notes:?}");
    assert!(notes.iter().any(|note| note.contains("1 without a number")), "{notes:?}");
}

/// The same rows in every dress that an office program gives them.
#[test]
fn the_dress_of_a_file_does_not_change_what_it_says() {
    let school = School::default();
    let plain = school.read(&[("athletes.csv", ATHLETES)]);
    let semicolons = ATHLETES.replace(',', ";");
    let tabs = ATHLETES.replace(',', "\t");
    let crlf = ATHLETES.replace('\n', "\r\n");
    let cr = ATHLETES.replace('\n', "\r");
    let marked = format!("\u{feff}{crlf}");
    let excel = format!("sep=;\r\n{}", semicolons.replace('\n', "\r\n"));
    let blank = ATHLETES.replace('\n', "\n\n,,,,,,,,,,\n  \n");
    let spaced = ATHLETES.replace(',', " ,\u{a0} ");
    let headers = ATHLETES.replacen(
        "first,last,team,jersey,phone,language,born",
        "First Name,APELLIDO,Squad,Jersey #,Cell Phone,Idioma,DOB",
        1,
    );
    let extra = ATHLETES.replace('\n', ",x\n").replacen("consent_how,x", "consent_how,Locker", 1);
    let dresses = [semicolons, tabs, crlf, cr, marked, excel, blank, spaced, headers, extra];
    for dress in &dresses {
        assert_eq!(school.read(&[("athletes.csv", dress)]), plain, "{dress}");
    }
    let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(ATHLETES.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(school.parse(&[("Athletes.CSV", &utf16)]).unwrap().0, plain);
}

/// A district's roster is read in seconds: nothing in the reading grows with the square of the rows.
#[test]
fn a_large_folder_is_read_in_time() {
    use std::fmt::Write as _;
    let rows = 20_000;
    let mut athletes = "id,first,last,team,phone,consent_by,consent_standing,consent_date,consent_how\n".to_owned();
    let mut guardians = "id,first,last,athletes\n".to_owned();
    let mut helmets = "tag,model,athlete\n".to_owned();
    for row in 0..rows {
        let (area, line) = (if row % 2 == 0 { 312 } else { 773 }, 100 + row % 100);
        writeln!(athletes, "a{row},Jonah,Vega{row},jv,{area}555{line:04},Rosa Vega,guardian,2026-08-03,signed form")
            .unwrap();
        writeln!(guardians, "g{row},Rosa,Vega{row},Jonah Vega{row}").unwrap();
        writeln!(helmets, "K-{row},Tern,Jonah Vega{row}").unwrap();
    }
    let school = School::default();
    let began = std::time::Instant::now();
    let data = school.read(&[("athletes.csv", &athletes), ("guardians.csv", &guardians), ("helmets.csv", &helmets)]);
    let told = browline::intake::changes(&data, &data);
    assert_eq!((told.athletes.unchanged, told.helmets.unchanged, told.guardianships.unchanged), (rows, rows, rows));
    // Under 2 s in a debug build; with a scan a row it is minutes.
    assert!(began.elapsed().as_secs() < 40, "{:?}", began.elapsed());
}

#[test]
fn windows_text_keeps_its_accents_and_says_so() {
    let bytes = b"first,last,team\r\nJos\xE9,Pe\xF1a,varsity\r\n";
    let (data, notes) = School::default().parse(&[("athletes.csv", bytes)]).unwrap();
    assert_eq!((data.athletes[0].first.as_str(), data.athletes[0].last.as_str()), ("José", "Peña"));
    assert_eq!(data.athletes[0].id.as_str(), "jose-pena-varsity");
    assert!(notes.iter().any(|note| note.what.contains("Windows-1252")));
}

#[test]
fn every_problem_is_told_at_once_and_where() {
    let text = "first,last,team,jersey,phone,born,consent_by,consent_standing,consent_date,consent_how\n\
        \"Jonah\n\",Vega,varsity,12,312 555 01,2009-02-30,,,,\n\
        \n\
        Eli,,frosh,12,,,Rosa Vega,guardian,,signed form\n\
        Kai,Moss,varsity,12,,2028-01-01,,,,\n\
        Lee,Fox,varsity,12,3125550103,2010-01-01,self,own,2026-08-01,text\n";
    let problems = School::default().problems(&[("roster/athletes.csv", text)]);
    let places: Vec<_> = problems.iter().map(|problem| problem.split(' ').next().unwrap()).collect();
    assert_eq!(
        places,
        [
            "roster/athletes.csv:2:5", // number too short
            "roster/athletes.csv:2:6", // no such day
            "roster/athletes.csv:5:2", // no last name
            "roster/athletes.csv:5:3", // no such team
            "roster/athletes.csv:6:4", // jersey taken
            "roster/athletes.csv:6:6", // born in the future
            "roster/athletes.csv:7:4", // jersey taken
            "roster/athletes.csv:7:8", // a minor's own consent
        ],
        "{problems:#?}"
    );
    assert!(problems.iter().all(|problem| problem.contains("; ")), "{problems:#?}");
}

#[test]
fn a_minors_own_consent_and_half_a_consent_are_refused() {
    let row = |born: &str, rest: &str| {
        format!(
            "first,last,team,phone,born,consent_by,consent_standing,consent_date,consent_how\nLee,Fox,varsity,3125550103,{born},{rest}\n"
        )
    };
    let school = School::default();
    for (born, rest, accepted) in [
        ("2007-08-01", "self,own,2026-08-01,online form", true),
        ("2008-08-02", "self,own,2026-08-01,online form", false),
        ("2008-08-01", "self,own,2026-08-01,online form", true),
        ("", "self,own,2026-08-01,online form", false),
        ("", "Rosa Fox,guardian,2026-08-01,signed form", true),
        ("", "Rosa Fox,guardian,,signed form", false),
        ("", "Rosa Fox,guardian,2026-08-21,signed form", false),
        ("", "Rosa Fox,guardian,2026-08-01,", false),
        ("", "Rosa Fox,,2026-08-01,signed form", false),
        ("", "Rosa Fox,aunt,2026-08-01,signed form", false),
        ("", ",guardian,2026-08-01,signed form", false),
        ("", "Rosa Fox (mother),,2026-08-01,signed form", true),
    ] {
        let problems = school.problems(&[("athletes.csv", &row(born, rest))]);
        assert_eq!(problems.is_empty(), accepted, "{born} {rest}: {problems:?}");
    }
    let none = school.read(&[("athletes.csv", &row("", ",,,"))]);
    assert!(none.consents.is_empty());
    let refused = school.read(&[("athletes.csv", &row("", "none,,,"))]);
    assert!(refused.consents.is_empty());
}

#[test]
fn headers_missing_or_double_are_problems_on_the_first_line() {
    let school = School::default();
    let problems = school.problems(&[("athletes.csv", "first,jersey\nJonah,12\n")]);
    assert_eq!(problems.len(), 2, "{problems:?}");
    assert!(problems.iter().all(|problem| problem.starts_with("athletes.csv:1:1 ")));
    let double = "first,last,team,cell,Phone number\nJonah,Vega,varsity,,\n";
    let problems = school.problems(&[("athletes.csv", double)]);
    assert!(problems[0].starts_with("athletes.csv:1:5 "), "{problems:?}");
    assert!(!school.problems(&[("athletes.csv", "")]).is_empty());
    let shifted = "first,last,team\nJonah,Vega,varsity,jr,x\n";
    assert!(school.problems(&[("athletes.csv", shifted)])[0].starts_with("athletes.csv:2:4 "));
    let open = "first,last,team\nJonah,\"Vega,varsity\nEli,Vega,jv\n";
    assert!(school.problems(&[("athletes.csv", open)])[0].starts_with("athletes.csv:2:1 "));
    assert!(school.problems(&[("athletes.csv", "PK\u{3}\u{4}x")])[0].contains("workbook"));
}

#[test]
fn guardians_answer_for_athletes_by_id_or_name() {
    let guardians = "first,last,phone,language,athletes,relation,consent_date,consent_how\n\
        Rosa,Vega,312-555-0101,español,jonah-vega-varsity; Eli Vega,mother,2026-08-03,signed form\n\
        Luis,Ortiz,,,\"Ortiz, Sam\",father,,\n";
    let school = School::default();
    let data = school.read(&[("athletes.csv", ATHLETES), ("guardians.csv", guardians)]);
    let links: Vec<_> = data.guardianships.iter().map(|link| (link.guardian.as_str(), link.athlete.as_str())).collect();
    assert_eq!(
        links,
        [
            ("luis-ortiz-guardian", "sam-ortiz-varsity"),
            ("rosa-vega-guardian", "eli-vega-jv"),
            ("rosa-vega-guardian", "jonah-vega-varsity"),
        ]
    );
    let rosa = data.guardians.iter().find(|guardian| guardian.first == "Rosa").unwrap();
    assert_eq!(rosa.language, Language::Es);
    let consent = data.consents.iter().find(|consent| consent.person == "rosa-vega-guardian").unwrap();
    assert_eq!((consent.standing, consent.phone.as_str()), (ConsentBy::Own, "+13125550101"));

    let unknown = guardians.replace("Eli Vega", "Ely Vega");
    let problems = school.problems(&[("athletes.csv", ATHLETES), ("guardians.csv", &unknown)]);
    assert_eq!(problems.len(), 1);
    assert!(problems[0].starts_with("guardians.csv:2:5 there is no athlete `Ely Vega`"), "{problems:?}");

    // A roster with problems of its own raises no false ones here.
    let broken = ATHLETES.replace("Eli,Vega", ",Vega");
    let problems = school.problems(&[("athletes.csv", &broken), ("guardians.csv", guardians)]);
    assert!(problems.iter().all(|problem| problem.starts_with("athletes.csv")), "{problems:?}");
}

#[test]
fn without_a_roster_among_the_files_the_stored_athletes_are_meant() {
    let mut school = School::default();
    school.known = school.read(&[("athletes.csv", ATHLETES)]).athletes;
    let guardians = "Guardian,Athlete\nRosa Vega,Jonah Vega\n";
    let data = school.read(&[("guardians.csv", guardians)]);
    assert_eq!(data.guardianships[0].athlete.as_str(), "jonah-vega-varsity");
    assert!(data.athletes.is_empty() && !data.scope.athletes);
}

#[test]
fn one_guardian_in_two_rows_is_one_guardian() {
    let rows = "first,last,phone,athletes,consent_date,consent_how\n\
        Rosa,Vega,312-555-0101,Jonah Vega,2026-08-03,signed form\n\
        Rosa,Vega,312-555-0101,Eli Vega,2026-08-03,signed form\n";
    let school = School::default();
    let data = school.read(&[("athletes.csv", ATHLETES), ("guardians.csv", rows)]);
    assert_eq!((data.guardians.len(), data.guardianships.len()), (1, 2));
    assert_eq!(data.consents.iter().filter(|consent| consent.person == "rosa-vega-guardian").count(), 1);
    let other = rows.replacen("Rosa,Vega,312-555-0101,Eli", "Rosa,Vega,312-555-0104,Eli", 1);
    let problems = school.problems(&[("athletes.csv", ATHLETES), ("guardians.csv", &other)]);
    assert!(problems[0].contains("line 2 already"), "{problems:?}");
}

#[test]
fn staff_with_roles_teams_and_days() {
    let text = "Name,Cell,Role,Teams,Duty,Call order,Email\n\
        \"Okafor, Dana\",312 555 0102,Athletic Trainer / Administrator,all,Mon-Fri,1,dana@example.com\n\
        Ray Lund,(312)555-0103,equipment; coach,Junior Varsity,\"Tue, Thu\",,\n";
    let data = School::default().read(&[("staff.csv", text)]);
    let dana = &data.staff[0];
    assert_eq!((dana.id.as_str(), dana.last.as_str(), dana.call_order), ("dana-okafor-staff", "Okafor", 1));
    assert_eq!(dana.roles, [Role::Trainer, Role::Administrator]);
    assert!(dana.teams.is_empty());
    let ray = &data.staff[1];
    assert_eq!(ray.teams[0].as_str(), "jv");
    assert_eq!((ray.duty.as_slice(), ray.call_order), ([DutyDay::Tue, DutyDay::Thu].as_slice(), 9));
    let bad = "first,last,roles,duty,email,call_order\nDana,Okafor,wizard,someday,dana,zero\nRay,Lund,,,,\n";
    assert_eq!(School::default().problems(&[("staff.csv", bad)]).len(), 5);
}

#[test]
fn no_id_stands_for_two_people() {
    let guardians = "id,first,last,athletes\njonah-vega-varsity,Rosa,Vega,Jonah Vega\n";
    let problems = School::default().problems(&[("athletes.csv", ATHLETES), ("guardians.csv", guardians)]);
    assert!(problems[0].contains("athletes.csv line 2 already"), "{problems:?}");
    let twins = format!("{ATHLETES}Jonah,Vega,varsity,13,,,,,,,\n");
    let problems = School::default().problems(&[("athletes.csv", &twins)]);
    assert!(problems[0].contains("column `id`"), "{problems:?}");
}

#[test]
fn helmets_find_their_athletes() {
    let helmets = "Tag,Model,Shell size,Serial #,Athlete,Team,Year,Recertified,Remarks\n\
        K-1,Halyard,L,H1,#12,varsity,2022,2026-02-10,\n\
        K-2,Tern,M,H2,4 JV,,05/2021,,\"new pads\nin May\"\n\
        K-3,Bosun,,,Sam Ortiz,,,,\n\
        K-4,Petrel,S,,spare,,,,\n\
        K-5,Tern,,,sam-ortiz-varsity,,,,\n";
    let school = School::default();
    let (data, notes) = school.read_with_notes(&[("athletes.csv", ATHLETES), ("helmets.csv", helmets)]);
    let wearers: Vec<_> =
        data.helmets.iter().map(|helmet| helmet.athlete.as_ref().map(|id| id.as_str().to_owned())).collect();
    let id = |text: &str| Some(text.to_owned());
    assert_eq!(
        wearers,
        [id("jonah-vega-varsity"), id("eli-vega-jv"), id("sam-ortiz-varsity"), None, id("sam-ortiz-varsity")]
    );
    assert_eq!(data.helmets[0].made.unwrap().to_string(), "2022-01-01");
    assert_eq!(data.helmets[1].notes.as_deref(), Some("new pads in May"));
    assert!(notes.iter().any(|note| note.contains("sam-ortiz-varsity has 2 helmets: K-3, K-5")), "{notes:?}");

    let bad = "tag,model,athlete,made,recertified\nK-1,Tern,99,2027,\nk 1,,,2024,2023-01-01\n";
    let problems = school.problems(&[("athletes.csv", ATHLETES), ("helmets.csv", bad)]);
    assert_eq!(problems.len(), 4, "{problems:#?}");
}

#[test]
fn a_jersey_worn_in_both_teams_is_not_guessed() {
    let athletes = "first,last,team,jersey\nJonah,Vega,varsity,12\nEli,Vega,jv,12\n";
    let helmets = "tag,model,athlete\nK-1,Tern,12\n";
    let problems = School::default().problems(&[("athletes.csv", athletes), ("helmets.csv", helmets)]);
    assert!(problems[0].contains("may be `jonah-vega-varsity` or `eli-vega-jv`"), "{problems:?}");
}

#[test]
fn events_in_local_time() {
    let text = "team,type,date,start,end,location,helmets,status\n\
        varsity,practice,9/1/2026,3:30 PM,5:30 PM,Field 2,,\n\
        Junior Varsity,Game,2026-11-02,18:00,,Alder Creek,yes,on\n\
        varsity,practice,2026-09-02,06:00,,,no,cancelled\n\
        varsity,practice,2026-09-03,7:00,8:00,,,\n\
        varsity,practice,2026-09-03,4pm,,,,\n";
    let data = School::default().read(&[("events.csv", text)]);
    let told: Vec<_> = data
        .events
        .iter()
        .map(|event| (event.id.as_str(), event.starts_at.to_string(), event.helmets, event.cancelled))
        .collect();
    assert_eq!(
        told,
        [
            ("jv-game-2026-11-02", "2026-11-03T00:00:00Z".to_owned(), true, false),
            ("varsity-practice-2026-09-01", "2026-09-01T20:30:00Z".to_owned(), true, false),
            ("varsity-practice-2026-09-02", "2026-09-02T11:00:00Z".to_owned(), false, true),
            ("varsity-practice-2026-09-03-0700", "2026-09-03T12:00:00Z".to_owned(), true, false),
            ("varsity-practice-2026-09-03-1600", "2026-09-03T21:00:00Z".to_owned(), true, false),
        ]
    );
    assert_eq!(data.events[0].kind, EventKind::Game);
    assert_eq!(data.events[0].date.to_string(), "2026-11-02");
    let bad = "team,date,start,end\nvarsity,2026-09-01,3:30,\nvarsity,2026-09-31,15:30,\nvarsity,2026-09-01,15:30,15:30\n,2026-09-01,15:30,\n";
    let problems = School::default().problems(&[("events.csv", bad)]);
    assert_eq!(problems.len(), 4, "{problems:#?}");
    assert!(problems[0].contains("morning or afternoon"));
}

#[test]
fn other_files_are_left_alone_with_a_word() {
    let (data, notes) = School::default().read_with_notes(&[("Roster.xlsx", "PK"), ("notes.txt", "hi")]);
    assert_eq!(data.athletes.len(), 0);
    assert_eq!(notes.len(), 2);
    assert!(notes[0].contains("save the sheet as CSV"));
    let twice = School::default().problems(&[("athletes.csv", ATHLETES), ("old/Athletes.csv", ATHLETES)]);
    assert!(twice[0].starts_with("old/Athletes.csv:1:1 there are two files"), "{twice:?}");
}

/// The templates that `init` writes are read without a problem, together and for the team they name.
#[test]
fn the_templates_import() {
    let read = |name: &str| {
        let path = format!("{}/templates/import/{name}", env!("CARGO_MANIFEST_DIR"));
        std::fs::read_to_string(path).unwrap()
    };
    let names = ["athletes.csv", "guardians.csv", "staff.csv", "helmets.csv", "models.csv", "events.csv"];
    let texts: Vec<_> = names.iter().map(|name| read(name)).collect();
    let files: Vec<_> = names.iter().copied().zip(texts.iter().map(String::as_str)).collect();
    let data = School::default().read(&files);
    assert_eq!((data.athletes.len(), data.guardians.len(), data.guardianships.len()), (1, 1, 1));
    assert_eq!((data.models.len(), data.models[0].tools.len()), (1, 5));
    assert_eq!((data.staff.len(), data.helmets.len(), data.events.len(), data.consents.len()), (1, 1, 1, 3));
}
