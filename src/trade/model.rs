//! Helmet models: what each takes to be worked on, and how long it serves. They are the program's own data; the program
//! knows no maker.

use serde::{Deserialize, Serialize};

use super::roster::ProgramId;
use super::size::ShellSize;

/// A helmet model of a program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Model {
    /// The program.
    pub program: ProgramId,
    /// Its name, as in the helmets' column `model`.
    pub name: String,
    /// The kind of face-mask hardware: drills of mask removal count for every model with the same.
    pub hardware: Option<String>,
    /// Tools that fixing it and taking its mask off need.
    pub tools: Vec<String>,
    /// Spare parts that a kit holds for it.
    pub spares: Vec<String>,
    /// Months after which it has to be recertified; without, the program's rule.
    pub recertify_months: Option<i64>,
    /// Age in years at which it retires; without, the program's rule.
    pub retire_years: Option<i64>,
    /// Shell sizes with the heads that they fit.
    pub sizes: Vec<ShellSize>,
    /// Anything else.
    pub notes: Option<String>,
}

#[cfg(test)]
impl Model {
    /// A model with this kind of hardware and nothing else.
    pub(crate) fn sample(name: &str, hardware: Option<&str>) -> Self {
        Self {
            program: ProgramId::from("p"),
            name: name.to_owned(),
            hardware: hardware.map(ToOwned::to_owned),
            tools: Vec::new(),
            spares: Vec::new(),
            recertify_months: None,
            retire_years: None,
            sizes: Vec::new(),
            notes: None,
        }
    }
}

/// The model of a name, spelling of capitals aside.
#[must_use]
pub fn find<'m>(models: &'m [Model], name: &str) -> Option<&'m Model> {
    models.iter().find(|model| model.name.eq_ignore_ascii_case(name.trim()))
}
