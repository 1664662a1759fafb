//! What a stolen database shows: no medical word, and nothing that anybody typed.

use browline::desk::clearance::record::Act;
use browline::store::Store;
use browline::store::tables;
use browline::trade::roster::AthleteId;

use crate::on_both_engines;
use crate::support::*;

/// Everything that lies in the database, as it lies there.
async fn laid_open(world: &World) -> String {
    if let Some(path) = world.address.strip_prefix("sqlite://") {
        let read = |name: String| std::fs::read(name).unwrap_or_default();
        let bytes = [read(path.to_owned()), read(format!("{path}-wal"))].concat();
        return String::from_utf8_lossy(&bytes).into_owned();
    }
    // The columns are taken as texts: nothing of them is opened.
    let mut tx = world.desk.store().read().await.unwrap();
    let mut all = String::new();
    for (table, _, _) in tables::all() {
        let sql: &'static str = Box::leak(format!("SELECT CAST(t.* AS TEXT) FROM {table} t").into_boxed_str());
        all.extend(tx.texts(sql, Vec::new()).await.unwrap());
    }
    all
}

on_both_engines! {
    async fn a_stolen_database_shows_no_medical_word(fresh) {
        let world = World::new(fresh.engine).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "my head hurts and im dizzy").await;
        world.text(NOAH, "im puking").await;
        world.text(ANA, "got 55").await;
        world.text(LUIS, "strap busted").await;
        let ana = world.desk.store().read().await.unwrap().staff(&world.program).await.unwrap().remove(0);
        let open = Act::Open { category: Some("possible concussion".into()), progression: Some("concussion".into()), check_in: true };
        world.desk.record_way(&world.program, &ana, (&AthleteId::from("a3"), &open), "k1", world.clock.now()).await.unwrap().unwrap();
        world.through("16T08:10:00").await;
        world.text(IVAN, "headache again").await;
        // It is all there for whoever has the key.
        assert!(world.got(ANA).iter().any(|text| text.contains("my head hurts")), "{:?}", world.got(ANA));
        let open = laid_open(&world).await;
        assert!(open.contains("Mara"), "it is the database that was looked into");
        for word in ["head hurts", "dizzy", "puking", "symptom", "concussion", "headache", "strap busted", "illness"] {
            assert!(!open.contains(word), "{word}: {}", around(&open, word));
        }
        assert!(open.replace("\"\"", "\"").contains("[\"strap\"]"), "helmet flags stay plain, for the season's counts");
        world.record_holds().await;
    }

    async fn without_the_key_nothing_is_read_and_a_strange_key_is_told_at_once(fresh) {
        let world = World::new(fresh.engine).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "my head hurts").await;
        let strange = browline::store::seal::Seal::of(&[9; 32]);
        let told = Store::open_with(&world.address, Some(strange)).await.unwrap_err().to_string();
        assert!(told.contains("sealed with another key"), "{told}");
        let told = Store::open(&world.address).await.unwrap_err().to_string();
        assert!(told.contains("does not open"), "without any, nothing sealed is taken for words: {told}");
    }
}

fn around(text: &str, word: &str) -> String {
    let at = text.find(word).unwrap_or_default();
    text.chars().skip(text[..at].chars().count().saturating_sub(200)).take(400).collect()
}

const STAFF_OF_ALL: &str = "\
id,first,last,phone,email,language,roles,teams,duty,call_order,consent_date,consent_how
ana,Ana,Ruiz,312-555-0101,,en,trainer,,,1,2026-08-01,signed form
cole,Cole,Hart,312-555-0103,,en,equipment,,,1,2026-08-01,signed form
dane,Dane,Ochs,312-555-0104,,en,coach,,,1,2026-08-01,signed form
beth,Beth,Lowe,312-555-0105,,en,responder,,,1,2026-08-01,signed form
dora,Dora,Finch,312-555-0106,,en,administrator,,,1,2026-08-01,signed form
";

const PEOPLE: [(char, &str); 5] = [('T', ANA), ('E', COLE), ('C', DANE), ('R', "+13125550105"), ('A', "+13125550106")];

/// What each text of staff does, and for whom: T trainer, E equipment, C coach, R responder, A administrator. Written down a
/// second time, and not by role names in code.
const COMMANDS: &[(&str, &str)] = &[
    ("got 7", "TE"),
    ("7 done new strap", "TE"),
    ("7 needs new helmet", "TE"),
    ("7 strap", "TE"),
    ("hold 63", "TEC"),
    ("list", "TE"),
    ("silent", "TE"),
    ("who's out", "TECRA"),
    ("got 55", "T"),
    // Nobody: that is no matter of a text.
    ("55 can go", ""),
    ("55 cleared", ""),
    ("55 step 1", "T"),
    ("55 worse", "T"),
    ("55 way", "T"),
    ("drill log roll today ana cole 42s", "TECR"),
    ("helmets", "TE"),
    ("no practice today", "TCA"),
];

async fn with_everybody(engine: Engine) -> World {
    let world = World::empty(engine, CONFIG).await;
    let mut all = roster();
    all.retain(|file| file.name != "staff.csv");
    all.extend(files(&[("staff.csv", STAFF_OF_ALL)]));
    world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
    world.to("15T06:45:00").await;
    world.text(MARCUS, "strap broke").await;
    world.text(IVAN, "me duele la cabeza").await;
    let ana = world.desk.store().read().await.unwrap().staff(&world.program).await.unwrap();
    let ana = ana.into_iter().find(|member| member.id.as_str() == "ana").unwrap();
    let open = Act::Open {
        category: Some("possible concussion".into()),
        progression: Some("concussion".into()),
        check_in: true,
    };
    world
        .desk
        .record_way(&world.program, &ana, (&AthleteId::from("a3"), &open), "k1", world.clock.now())
        .await
        .unwrap()
        .unwrap();
    world.to("15T14:00:00").await;
    world
}

/// What the program answers when a text does nothing for its sender: the role may not, or the text is of no use to the role.
fn is_refused(answer: &str) -> bool {
    answer.contains("othing was changed")
        || answer.contains("Nothing open")
        || answer.contains("cannot be lifted by text")
}

#[tokio::test]
async fn every_text_command_does_what_it_does_for_its_roles_alone() {
    let mut wrong = Vec::new();
    for (text, roles) in COMMANDS {
        for (role, number) in PEOPLE {
            let world = with_everybody(Engine::Sqlite).await;
            let before = world.got(number).len();
            world.text(number, text).await;
            let welcome = |text: &String| text.starts_with("Larkspur Valley Kestrels staff texts");
            let answers: Vec<String> =
                world.got(number).into_iter().skip(before).filter(|text| !welcome(text)).collect();
            let did = answers.iter().any(|answer| !is_refused(answer));
            if did != roles.contains(role) {
                wrong.push(format!("{role} {text:?}: {answers:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

on_both_engines! {
    async fn no_message_to_anybody_but_medical_staff_and_the_athlete_has_a_medical_word(fresh) {
        let world = with_everybody(fresh.engine).await;
        world.text(NOAH, "im throwing up").await;
        world.text(BROTHERS, "jonah is dizzy, eli ok").await;
        world.text(ANA, "got all").await;
        for (_, number) in PEOPLE {
            for text in ["list", "silent", "who's out", "55", "helmets", "drill"] {
                world.text(number, text).await;
            }
        }
        world.through("17T12:00:00").await;
        let medical = ["concussion", "conmoc", "cabeza", "headache", "symptom", "dizzy", "throwing up", "vomit", "illness", "step 1", "evaluat"];
        for (role, number) in PEOPLE.into_iter().filter(|(role, _)| *role != 'T') {
            for text in world.got(number) {
                for word in medical {
                    assert!(!text.to_lowercase().contains(word), "{role} reads {word}: {text}");
                }
            }
        }
        for text in world.got(ROSA) {
            for word in medical {
                assert!(!text.to_lowercase().contains(word), "the family reads {word}: {text}");
            }
        }
        assert!(world.got(ANA).iter().any(|text| text.contains("concussion")), "the trainer reads it");
    }
}
