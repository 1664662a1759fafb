//! Drills by text, gaps told before an event, and the time-out on a game day.

use browline::store::rows::OutState;

use crate::on_both_engines;
use crate::support::*;

const MODELS: &str = "\
model,hardware,tools,spares,recertify_months,retire_years,notes
Tern,quarter-turn clips,release tool,chin strap,24,10,
Halyard,T-nut screws,release tool,chin strap,24,10,
";

const DRILLS: &str = "\
date,skill,people,place,models,seconds,notes
2026-08-03,log roll,Ana: head; Tess; Cole; Dane,Field 2,,,
2026-08-03,helmet removal,Ana; Tess,Field 2,Tern,,
2026-08-03,whole plan,Ana; Tess; Cole; Dane,Field 2,,,
2026-08-04,mask,Cole; Dane,Field 2,Tern; Halyard,40,
2026-08-04,cutter,Dane,Field 2,Halyard,55,
2026-08-05,cutter,Tess,Field 2,Tern; Halyard,62,
";

const VENUES: &str = "\
name,address,entrance,aed,kit,hospital,notes
Larkspur Stadium,400 Kestrel Way,north gate,home tunnel,home bench,County Hospital,
";

const GAMES: &str = "\
id,team,kind,date,start,end,place,helmets,status
p15,varsity,practice,2026-09-15,15:30,17:30,Field 2,yes,on
p16,varsity,practice,2026-09-16,15:30,17:30,Field 2,yes,on
g18,varsity,game,2026-09-18,19:00,21:30,Larkspur Stadium,yes,on
";

/// Three positions, since there are four people.
const THREE: &str = "[programs.larkspur.drills]\npositions = [\"head\", \"mask\", \"cutter\"]\n";

async fn rehearsed(world: &World) {
    let more = [("models.csv", MODELS), ("drills.csv", DRILLS), ("venues.csv", VENUES), ("events.csv", GAMES)];
    let mut all = roster();
    all.retain(|file| file.name != "events.csv");
    all.extend(files(&more));
    world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
}

async fn world(engine: Engine) -> World {
    let config = CONFIG.replace("[programs.larkspur.times]", &format!("{THREE}\n[programs.larkspur.times]"));
    let world = World::empty(engine, &config).await;
    rehearsed(&world).await;
    world
}

fn last(world: &World, who: &str) -> String {
    let welcome = |text: &String| text.starts_with("Larkspur Valley Kestrels staff texts");
    world.got(who).into_iter().rfind(|text| !welcome(text)).unwrap_or_default()
}

on_both_engines! {
    async fn a_drill_by_text_closes_the_gap_that_an_absence_opened(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(ANA, "drill").await;
        let fine = world.got(ANA).into_iter().find(|text| text.contains("every position")).expect("covered");
        assert!(fine.starts_with("Varsity, game 7:00 pm Fri Sep 18"), "{fine}");
        // Tess alone has the cutter on Tern's clips.
        world.text(TESS, "im away fri").await;
        let told = last(&world, TESS);
        assert!(told.contains("Tess is away, Fri Sep 18") && told.contains("nobody current for cutter (Tern)"), "{told}");
        world.text(ANA, "drill").await;
        let gap = last(&world, ANA);
        for part in ["nobody current for cutter (Tern)", "while Tess is away", "Ten minutes closes it, today:", "face mask with the cutter on quarter-turn clips"] {
            assert!(gap.contains(part), "{part}: {gap}");
        }
        world.text(ANA, "drill cutter tern today dane anna 58s").await;
        assert!(last(&world, ANA).contains("who or what is \"anna\"?"), "{}", last(&world, ANA));
        world.text(ANA, "drill cutter tern today dane cole 58s").await;
        let recorded = last(&world, ANA);
        assert!(recorded.starts_with("Recorded: face mask with the cutter (Tern), today"), "{recorded}");
        assert!(recorded.contains("every position can be filled"), "{recorded}");
        world.text(ANA, "drill undo").await;
        assert!(last(&world, ANA).starts_with("Taken back: face mask with the cutter, today"), "{}", last(&world, ANA));
        world.text(ANA, "drill").await;
        assert!(last(&world, ANA).contains("nobody current for cutter"), "{}", last(&world, ANA));
        world.record_holds().await;
    }

    async fn a_gap_is_told_ahead_and_the_time_out_goes_out_once(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T07:00:00").await;
        world.text(TESS, "away fri").await;
        world.through("16T13:00:00").await;
        let told = |who: &str| world.got(who).into_iter().filter(|text| text.contains("nobody current")).count();
        assert_eq!((told(ANA), told(COLE)), (1, 0), "two days ahead, to the trainer on duty: {:?}", world.got(ANA));
        world.through("18T19:30:00").await;
        let outs: Vec<String> = world.got(COLE).into_iter().filter(|text| text.starts_with("Medical time-out")).collect();
        assert_eq!(outs.len(), 1, "{outs:?}");
        for part in ["head and neck Ana", "mask with the tool Cole", "NOBODY for: cutter (Tern)", "Larkspur Stadium, 400 Kestrel Way", "Ambulance: north gate", "AED: home tunnel", "Kit: home bench", "County Hospital"] {
            assert!(outs[0].contains(part), "{part}: {}", outs[0]);
        }
        assert!(world.got(TESS).iter().all(|text| !text.starts_with("Medical time-out")), "she is away");
        assert!(world.outbox(ANA).await.iter().all(|row| row.state != OutState::Failed));
        // The same moment again adds nothing.
        let before = world.outbox(COLE).await.len();
        world.settle().await;
        assert_eq!(world.outbox(COLE).await.len(), before);
    }

    async fn what_is_coming_names_the_drill_and_its_day(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(TESS, "away fri").await;
        let (from, to) = ("2026-09-15".parse().unwrap(), "2027-09-15".parse().unwrap());
        let coming = world.desk.coming(&world.program, from, to, world.clock.now()).await.unwrap();
        let drill = coming.iter().find(|coming| coming.title.starts_with("Drill before")).expect("the gap");
        assert!(drill.what.contains("nobody current for cutter (Tern)"), "{drill:?}");
        assert!(coming.iter().any(|coming| coming.key == "rehearsal/2027-08-03"), "{coming:?}");
    }

    async fn somebody_who_has_no_part_in_it_records_nothing(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(MARCUS, "drill log roll today ana").await;
        let drills = world.desk.store().read().await.unwrap().drills_since(&world.program, "2026-09-01".parse().unwrap()).await.unwrap();
        assert!(drills.is_empty());
    }
}
