//! How a Rust value becomes a row and back, once for both engines.
//!
//! A row travels as one JSON object in each direction: written with `INSERT .. SELECT .. FROM` a JSON array, so that a
//! batch is one statement and one bind; read with one JSON column a row, so that serde alone knows the types. The SQL
//! is made from the list of columns; the engines differ in the names of three functions, all of them here.

use std::fmt::Write as _;

use serde::{Serialize, de::DeserializeOwned};

/// Which of the two engines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dialect {
    /// SQLite.
    Sqlite,
    /// PostgreSQL.
    Postgres,
}

/// How a column is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// A 64-bit integer; moments are milliseconds.
    Int,
    /// A boolean.
    Bool,
    /// A JSON document, kept as text.
    Json,
    /// Text that may hold what is nobody's but medical staff's, or somebody's own words: sealed where there is a key.
    Sealed,
    /// A JSON document of that sort.
    SealedJson,
    /// Flags: sealed when a body flag is among them.
    Flags,
}

/// A value that has a table.
pub trait Table: Serialize + DeserializeOwned + Send + Sync {
    /// The table's name.
    const NAME: &'static str;
    /// Its primary key; the program leads.
    const KEY: &'static [&'static str];
    /// Its columns.
    const COLUMNS: &'static [(&'static str, Kind)];

    /// `SELECT` of whole rows, each as one JSON object, up to and with the `FROM`.
    #[must_use]
    fn select(dialect: Dialect) -> String {
        let mut sql = String::from(match dialect {
            Dialect::Sqlite => "SELECT json_object(",
            Dialect::Postgres => "SELECT CAST(json_build_object(",
        });
        for (index, (name, kind)) in Self::COLUMNS.iter().enumerate() {
            let comma = if index == 0 { "" } else { ", " };
            let value = read(dialect, name, *kind);
            let _ = write!(sql, "{comma}'{name}', {value}");
        }
        sql.push_str(match dialect {
            Dialect::Sqlite => ")",
            Dialect::Postgres => ") AS TEXT)",
        });
        let _ = write!(sql, " FROM {}", Self::NAME);
        sql
    }

    /// `INSERT` of a JSON array of rows bound as `$1`; a row whose key is there already is left as it is.
    #[must_use]
    fn insert(dialect: Dialect) -> String {
        format!("{} ON CONFLICT ({}) DO NOTHING", values::<Self>(dialect), Self::KEY.join(", "))
    }

    /// `INSERT` of a JSON array of rows bound as `$1`; a row whose key is there already is replaced.
    #[must_use]
    fn put(dialect: Dialect) -> String {
        let updates: Vec<String> = Self::COLUMNS
            .iter()
            .filter(|(name, _)| !Self::KEY.contains(name))
            .map(|(name, _)| format!("{name} = excluded.{name}"))
            .collect();
        format!(
            "{} ON CONFLICT ({}) DO UPDATE SET {}",
            values::<Self>(dialect),
            Self::KEY.join(", "),
            updates.join(", ")
        )
    }
}

fn read(dialect: Dialect, name: &str, kind: Kind) -> String {
    match (dialect, kind) {
        (_, Kind::Text | Kind::Sealed | Kind::Int) | (Dialect::Postgres, Kind::Bool) => name.to_owned(),
        (Dialect::Sqlite, Kind::Bool) => {
            format!("json(CASE {name} WHEN 1 THEN 'true' WHEN 0 THEN 'false' ELSE 'null' END)")
        }
        (Dialect::Sqlite, Kind::Json | Kind::SealedJson | Kind::Flags) => format!("json({name})"),
        (Dialect::Postgres, Kind::Json | Kind::SealedJson | Kind::Flags) => format!("CAST({name} AS JSON)"),
    }
}

fn values<T: Table>(dialect: Dialect) -> String {
    let names: Vec<&str> = T::COLUMNS.iter().map(|(name, _)| *name).collect();
    let fields: Vec<String> = T::COLUMNS
        .iter()
        .map(|(name, kind)| match (dialect, kind) {
            // A sealed document is a JSON text, and its quotes are part of it.
            (Dialect::Sqlite, Kind::SealedJson | Kind::Flags) => format!("value -> '{name}'"),
            (Dialect::Postgres, Kind::SealedJson | Kind::Flags) => {
                format!("CAST(NULLIF(value -> '{name}', 'null') AS TEXT)")
            }
            (_, Kind::Text | Kind::Sealed | Kind::Json) | (Dialect::Sqlite, _) => format!("value ->> '{name}'"),
            (Dialect::Postgres, Kind::Int) => format!("CAST(value ->> '{name}' AS BIGINT)"),
            (Dialect::Postgres, Kind::Bool) => format!("CAST(value ->> '{name}' AS BOOLEAN)"),
        })
        .collect();
    let source = match dialect {
        Dialect::Sqlite => "json_each($1)",
        Dialect::Postgres => "jsonb_array_elements(CAST($1 AS JSONB)) AS t(value)",
    };
    // The WHERE keeps SQLite's parser from taking ON CONFLICT for a join.
    format!("INSERT INTO {} ({}) SELECT {} FROM {source} WHERE TRUE", T::NAME, names.join(", "), fields.join(", "))
}

/// A query text for both engines. Two words in it stand for what differs: `IN LIST($n)` for the members of a JSON array
/// of texts, and `SKIP_LOCKED` or `LOCKED_ROWS` for row locks, which SQLite's single writer does not need.
///
/// PostgreSQL gets the members as one array, which it makes once and looks up in an index; as a subquery it would, without
/// statistics of a table that a morning has just filled, unpack the JSON anew for each row.
pub fn expand(sql: &str, dialect: Dialect) -> String {
    const IN_LIST: &str = "IN LIST(";
    let mut rest = sql;
    let mut out = String::with_capacity(sql.len() + 64);
    while let Some(start) = rest.find(IN_LIST) {
        out.push_str(&rest[..start]);
        let end = rest[start..].find(')').map_or(rest.len(), |end| start + end);
        let bind = &rest[start + IN_LIST.len()..end];
        let _ = match dialect {
            Dialect::Sqlite => write!(out, "IN (SELECT value FROM json_each({bind}))"),
            Dialect::Postgres => {
                write!(out, "= ANY (ARRAY(SELECT jsonb_array_elements_text(CAST({bind} AS JSONB))))")
            }
        };
        rest = rest.get(end + 1..).unwrap_or_default();
    }
    out.push_str(rest);
    let (skip, lock) = match dialect {
        Dialect::Sqlite => ("", ""),
        Dialect::Postgres => ("FOR UPDATE SKIP LOCKED", "FOR UPDATE"),
    };
    out.replace("SKIP_LOCKED", skip).replace("LOCKED_ROWS", lock)
}
