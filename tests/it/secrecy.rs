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
    let store = Store::open(&world.address).await.unwrap();
    let mut tx = store.read().await.unwrap();
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
    }
}

fn around(text: &str, word: &str) -> String {
    let at = text.find(word).unwrap_or_default();
    text.chars().skip(text[..at].chars().count().saturating_sub(200)).take(400).collect()
}
