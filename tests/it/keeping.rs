//! What is kept and what is not: the record verified, an athlete forgotten, old data purged, a backup restored.

use browline::desk::clearance::record::Act;
use browline::desk::record::Broken;
use browline::store::Store;
use browline::store::copy::CopyError;
use browline::store::seal::Seal;
use browline::trade::roster::AthleteId;

use crate::on_both_engines;
use crate::support::*;

async fn lived(engine: Engine) -> World {
    let world = World::new(engine).await;
    world.to("15T06:45:00").await;
    world.text(IVAN, "me duele la cabeza").await;
    world.text(MARCUS, "strap broke").await;
    world.text(NOAH, "ok").await;
    world.text(BROTHERS, "jonah ok eli 2").await;
    world.text(ANA, "got 55").await;
    world.text(COLE, "7 done new strap").await;
    world.through("15T09:00:00").await;
    let ana = world.desk.store().read().await.unwrap().staff(&world.program).await.unwrap().remove(0);
    let open = Act::Open { category: Some("possible concussion".into()), progression: None, check_in: true };
    world
        .desk
        .record_way(&world.program, &ana, (&AthleteId::from("a3"), &open), "k1", world.clock.now())
        .await
        .unwrap()
        .unwrap();
    world
}

async fn saved(store: &Store) -> String {
    let mut out = Vec::new();
    store.back_up(&mut out, at("15T09:00:00")).await.unwrap();
    String::from_utf8(out).unwrap()
}

on_both_engines! {
    async fn the_record_is_verified_and_a_change_in_the_database_shows(fresh) {
        let world = lived(fresh.engine).await;
        let holds = world.desk.verify_record(&world.program).await.unwrap().unwrap();
        assert!(holds.lines > 5 && holds.erased == 0, "{holds:?}");
        let change = async |sql: &str| {
            let mut tx = world.desk.store().write().await.unwrap();
            tx.raw(sql.to_owned()).await.unwrap();
            tx.commit().await.unwrap();
            world.desk.verify_record(&world.program).await.unwrap().unwrap_err()
        };
        assert_eq!(change("UPDATE record SET what = 'other' WHERE seq = 3").await, Broken::Changed(3));
        let last = i64::try_from(holds.lines).unwrap();
        assert_eq!(change("DELETE FROM record WHERE seq = 3").await, Broken::Missing(3));
        let world = lived(world.engine).await;
        let mut tx = world.desk.store().write().await.unwrap();
        tx.raw(format!("DELETE FROM record WHERE seq = {last}")).await.unwrap();
        tx.commit().await.unwrap();
        assert_eq!(world.desk.verify_record(&world.program).await.unwrap(), Err(Broken::End(last - 1, last)), "the end cut off");
    }

    async fn the_record_of_one_athlete_has_their_lines_and_nobody_elses(fresh) {
        let world = lived(fresh.engine).await;
        let lines = world.desk.record_lines(&world.program, Some(&AthleteId::from("a3")), (None, None)).await.unwrap();
        assert!(lines.iter().any(|line| line.what == "hold opened"), "{lines:?}");
        assert!(lines.iter().any(|line| line.why.contains("possible concussion")), "{lines:?}");
        assert!(lines.iter().all(|line| !line.who.contains("a4") && !line.subject.contains("a4")), "{lines:?}");
        let none = world.desk.record_lines(&world.program, None, ("2026-10-01".parse().ok(), None)).await.unwrap();
        assert_eq!(none, []);
    }

    async fn an_athlete_is_forgotten_and_the_record_counts_the_gap(fresh) {
        let world = lived(fresh.engine).await;
        let now = world.clock.now();
        let held = world.desk.forget(&world.program, &AthleteId::from("a3"), "asked", now, false).await.unwrap_err();
        assert!(held.to_string().contains("is held for a body reason"), "{held}");
        let marcus = AthleteId::from("a4");
        let dry = world.desk.forget(&world.program, &marcus, "asked by the family", now, true).await.unwrap();
        assert!(dry.rows.iter().any(|(table, rows)| *table == "item" && *rows == 1), "{dry:?}");
        assert!(saved(world.desk.store()).await.contains("\"a4\""), "a dry run deletes nothing");
        let gone = world.desk.forget(&world.program, &marcus, "asked by the family", now, false).await.unwrap();
        assert_eq!(gone, dry);
        let holds = world.desk.verify_record(&world.program).await.unwrap().unwrap();
        assert_eq!(holds.erased, gone.lines.len());
        let left = saved(world.desk.store()).await;
        for trace in ["\"a4\"", "/a4/", "athlete a4", "Marcus", "+13125550112"] {
            assert!(!left.contains(trace), "{trace}: {:?}", left.lines().find(|line| line.contains(trace)));
        }
        assert!(left.contains("Noah") && left.contains("\"a1\""), "everybody else is there");
        // A second time there is nobody.
        assert!(world.desk.forget(&world.program, &marcus, "asked", now, false).await.is_err());
        // The program goes on.
        world.text(NOAH, "ok").await;
        world.through("16T09:00:00").await;
        world.desk.verify_record(&world.program).await.unwrap().unwrap();
    }

    async fn what_is_older_than_it_is_kept_is_purged_and_said_before(fresh) {
        let world = lived(fresh.engine).await;
        let rows = |all: &[browline::desk::keeping::Purged], kind: &str| all.iter().find(|one| one.kind.starts_with(kind)).unwrap().rows;
        let soon = world.desk.purge(&world.program, world.clock.now(), false).await.unwrap();
        assert!(soon.iter().all(|kind| kind.rows == 0), "{soon:?}");
        world.clock.set(browline::trade::time::Moment::parse("2029-01-15T09:00:00-06:00").unwrap());
        let now = world.clock.now();
        let dry = world.desk.purge(&world.program, now, true).await.unwrap();
        assert!(rows(&dry, "texts") > 5, "{dry:?}");
        assert_eq!(rows(&dry, "morning checks"), 0, "kept for longer");
        assert_eq!(dry.iter().find(|one| one.kind.starts_with("ways back")).unwrap().days, None, "medical records are kept unless it is set");
        assert_eq!(world.desk.purge(&world.program, now, false).await.unwrap(), dry);
        assert_eq!(rows(&world.desk.purge(&world.program, now, true).await.unwrap(), "texts"), 0);
        world.desk.verify_record(&world.program).await.unwrap().unwrap();
    }

    async fn a_backup_made_while_serving_restores_on_either_engine(fresh) {
        let world = lived(fresh.engine).await;
        // Somebody is in the middle of writing: of that nothing is in the copy.
        let mut writing = world.desk.store().write().await.unwrap();
        writing.raw("UPDATE athlete SET first = 'Halfway' WHERE id = 'a1'".to_owned()).await.unwrap();
        let copy = saved(world.desk.store()).await;
        drop(writing);
        assert!(!copy.contains("Halfway") && !copy.contains("duele") && !copy.contains("possible concussion"), "sealed in the copy too");
        for engine in [Engine::Sqlite, Engine::Postgres] {
            let database = Database::fresh(engine).await;
            let other = Store::open_with(&database.address, Some(Seal::of(&KEY))).await.unwrap();
            let restored = other.restore(&mut copy.as_bytes()).await.unwrap();
            assert_eq!(restored.rows, copy.lines().count() - 2);
            assert_eq!(saved(&other).await.lines().skip(1).filter(|line| line.starts_with("{\"table\"")).collect::<Vec<_>>().len(), restored.rows);
            let mut theirs = other.read().await.unwrap();
            let mut ours = world.desk.store().read().await.unwrap();
            let (left, right) = (theirs.record(&world.program).await.unwrap(), ours.record(&world.program).await.unwrap());
            assert_eq!(left, right);
            assert!(left.iter().any(|line| line.why.contains("possible concussion")), "opened with the key");
            assert_eq!(theirs.items_open(&world.program).await.unwrap(), ours.items_open(&world.program).await.unwrap());
            drop(theirs);
            assert!(matches!(other.restore(&mut copy.as_bytes()).await, Err(CopyError::NotEmpty(_))));
        }
        let database = Database::fresh(world.engine).await;
        let other = Store::open_with(&database.address, Some(Seal::of(&KEY))).await.unwrap();
        let cut: String = copy.lines().take(10).map(|line| format!("{line}\n")).collect();
        assert!(other.restore(&mut cut.as_bytes()).await.unwrap_err().to_string().contains("not whole"));
        let changed = copy.replace("Noah", "Noel");
        assert!(other.restore(&mut changed.as_bytes()).await.unwrap_err().to_string().contains("sum differs"));
        other.restore(&mut copy.as_bytes()).await.unwrap();
    }
}
