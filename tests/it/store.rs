//! The store: the same tables on both engines, and rows that come back as they went in.

use std::collections::BTreeMap;

use browline::store::Store;
use browline::store::table::{Dialect, Kind};
use browline::store::tables;

use crate::support::{Database, Engine};

async fn columns(engine: Engine) -> BTreeMap<String, Vec<(String, bool)>> {
    let database = Database::fresh(engine).await;
    let store = Store::open(&database.address).await.unwrap();
    let mut tx = store.read().await.unwrap();
    let mut found = BTreeMap::new();
    for (table, _, _) in tables::all() {
        let sql: &'static str = match store.dialect() {
            Dialect::Sqlite => {
                "SELECT name || ':' || (CASE WHEN \"notnull\" = 1 THEN 'no' ELSE 'yes' END) FROM pragma_table_info($1) ORDER BY name"
            }
            Dialect::Postgres => {
                "SELECT column_name || ':' || (CASE WHEN is_nullable = 'NO' THEN 'no' ELSE 'yes' END) \
                 FROM information_schema.columns WHERE table_name = $1 ORDER BY column_name"
            }
        };
        let rows = tx.texts(sql, vec![table.into()]).await.unwrap();
        let mut rows: Vec<(String, bool)> = rows
            .into_iter()
            .map(|row| {
                let (name, nullable) = row.split_once(':').unwrap();
                (name.to_owned(), nullable == "yes")
            })
            .collect();
        rows.sort();
        found.insert(table.to_owned(), rows);
    }
    found
}

#[tokio::test]
async fn both_engines_have_the_same_tables_and_the_code_names_all_columns() {
    let sqlite = columns(Engine::Sqlite).await;
    let postgres = columns(Engine::Postgres).await;
    assert_eq!(sqlite, postgres);
    for (table, key, columns) in tables::all() {
        let mut named: Vec<String> = columns.iter().map(|(name, _)| (*name).to_owned()).collect();
        named.sort();
        let there: Vec<String> = sqlite[table].iter().map(|(name, _)| name.clone()).collect();
        assert_eq!(named, there, "{table}");
        assert_eq!(key.first(), Some(&"program"), "{table}: the program leads the key");
        assert!(columns.iter().any(|(_, kind)| *kind == Kind::Text));
    }
}

#[test]
fn both_migration_folders_have_the_same_files() {
    let names = |folder: &str| {
        let mut names: Vec<_> = std::fs::read_dir(format!("{}/migrations/{folder}", env!("CARGO_MANIFEST_DIR")))
            .unwrap()
            .map(|entry| entry.unwrap().file_name())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names("sqlite"), names("postgres"));
}
