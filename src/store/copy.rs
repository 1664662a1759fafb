//! Backups: every row of every table as a line of JSON, read in one transaction, so that they fit together while others go
//! on writing; and back into an empty database, of the same engine or the other. What is sealed stays sealed: whoever restores
//! needs the same key.

use std::io::{BufRead, Write};

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::table::Dialect;
use super::{Arg, Store, StoreError, Tx, tables, text};
use crate::trade::time::Moment;

/// Rows that are read, or put, at once.
const AT_ONCE: usize = 1_000;
/// The version of the file.
const VERSION: u32 = 1;

/// Why a copy failed.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The file could not be written or read.
    #[error("the file: {0}")]
    File(#[from] std::io::Error),
    /// The file is no backup, or not a whole one.
    #[error("line {line}: {what}")]
    Broken {
        /// Where.
        line: usize,
        /// What is wrong.
        what: String,
    },
    /// The database has rows already.
    #[error("the database is not empty (`{0}` has rows); restore into a new one, so that nothing is lost")]
    NotEmpty(&'static str),
}

/// What was copied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copy {
    /// Rows.
    pub rows: usize,
    /// SHA-256 over all lines.
    pub hash: String,
}

#[derive(Debug, Serialize, Deserialize)]
struct Head {
    browline_backup: u32,
    made_at: Moment,
}

#[derive(Debug, Serialize, Deserialize)]
struct Line<'a> {
    table: std::borrow::Cow<'a, str>,
    row: Box<serde_json::value::RawValue>,
}

#[derive(Debug, Serialize, Deserialize)]
struct End {
    rows: usize,
    sha256: String,
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Store {
    /// Writes everything that is committed at this moment.
    ///
    /// # Errors
    /// [`CopyError`] when the store or the file fails; then the file is no backup, and its missing last line shows it.
    pub async fn back_up(&self, out: &mut (dyn Write + Send), now: Moment) -> Result<Copy, CopyError> {
        let mut tx = self.read().await?;
        let mut hasher = Sha256::new();
        let mut rows = 0;
        let mut say = |line: String| -> std::io::Result<()> {
            hasher.update(line.as_bytes());
            hasher.update(b"\n");
            writeln!(out, "{line}")
        };
        say(json(&Head { browline_backup: VERSION, made_at: now })?)?;
        for copied in tables::copied(self.dialect()) {
            let mut offset = 0;
            loop {
                let some = tx.raw_rows(&copied, offset).await?;
                for row in &some {
                    let row = serde_json::value::RawValue::from_string(row.clone()).map_err(std::io::Error::other)?;
                    say(json(&Line { table: copied.table.into(), row })?)?;
                }
                rows += some.len();
                offset += some.len();
                if some.len() < AT_ONCE {
                    break;
                }
            }
        }
        let hash = hex(&hasher.finalize());
        writeln!(out, "{}", json(&End { rows, sha256: hash.clone() })?)?;
        out.flush()?;
        Ok(Copy { rows, hash })
    }

    /// Reads a backup into this database, which has to be empty: all or nothing.
    ///
    /// # Errors
    /// [`CopyError`]; then the database is as empty as before.
    pub async fn restore(&self, input: &mut (dyn BufRead + Send)) -> Result<Copy, CopyError> {
        let all = tables::copied(self.dialect());
        let mut tx = self.write().await?;
        for copied in &all {
            if !tx.raw_rows(copied, 0).await?.is_empty() {
                return Err(CopyError::NotEmpty(copied.table));
            }
        }
        let mut hasher = Sha256::new();
        let (mut rows, mut number) = (0, 0);
        let mut end: Option<End> = None;
        let mut waiting: (Option<usize>, Vec<String>) = (None, Vec::new());
        let mut line = String::new();
        while input.read_line(&mut line)? > 0 {
            number += 1;
            let said = line.trim_end_matches(['\n', '\r']).to_owned();
            line.clear();
            let broken = |what: &str| CopyError::Broken { line: number, what: what.to_owned() };
            if end.is_some() {
                return Err(broken("there is something behind the last line"));
            }
            if number == 1 {
                let head: Head = serde_json::from_str(&said).map_err(|_| broken("this is no backup of Browline"))?;
                if head.browline_backup != VERSION {
                    return Err(broken("this backup was made by another version"));
                }
            } else if let Ok(last) = serde_json::from_str::<End>(&said) {
                end = Some(last);
                continue;
            } else {
                let row: Line<'_> = serde_json::from_str(&said).map_err(|_| broken("this line cannot be read"))?;
                let table = all.iter().position(|copied| copied.table == row.table);
                let table = table.ok_or_else(|| broken("there is no such table"))?;
                if waiting.0 != Some(table) || waiting.1.len() >= AT_ONCE {
                    put(&mut tx, &all, &mut waiting).await?;
                }
                waiting.0 = Some(table);
                waiting.1.push(row.row.get().to_owned());
                rows += 1;
            }
            hasher.update(said.as_bytes());
            hasher.update(b"\n");
        }
        put(&mut tx, &all, &mut waiting).await?;
        let hash = hex(&hasher.finalize());
        let cut = || CopyError::Broken { line: number, what: "the file ends here: it is not whole".to_owned() };
        let end = end.ok_or_else(cut)?;
        if end.rows != rows || end.sha256 != hash {
            return Err(CopyError::Broken { line: number, what: "the file was changed: its sum differs".to_owned() });
        }
        tx.commit().await?;
        Ok(Copy { rows, hash })
    }
}

async fn put(tx: &mut Tx, all: &[tables::Copied], waiting: &mut (Option<usize>, Vec<String>)) -> Result<(), CopyError> {
    let (Some(table), rows) = (waiting.0, std::mem::take(&mut waiting.1)) else { return Ok(()) };
    let Some(copied) = all.get(table).filter(|_| !rows.is_empty()) else { return Ok(()) };
    let array = format!("[{}]", rows.join(","));
    let sql = text(tx.dialect(), format!("insert {}", copied.table), || copied.insert.clone());
    let put = tx.run(sql, vec![Arg::Text(array)]).await?;
    if put != rows.len() as u64 {
        return Err(CopyError::Broken { line: 0, what: format!("`{}` has two rows of one key", copied.table) });
    }
    Ok(())
}

fn json(value: &impl Serialize) -> std::io::Result<String> {
    serde_json::to_string(value).map_err(std::io::Error::other)
}

impl Tx {
    async fn raw_rows(&mut self, copied: &tables::Copied, offset: usize) -> Result<Vec<String>, StoreError> {
        let dialect: Dialect = self.dialect();
        let sql = text(dialect, format!("copy {}", copied.table), || copied.select.clone());
        let at = |number: usize| Arg::Int(i64::try_from(number).unwrap_or(i64::MAX));
        self.fetch(sql, vec![at(AT_ONCE), at(offset)]).await
    }
}
