//! Who is meant when a file names an athlete.

use std::collections::BTreeMap;

use super::cell::{self, key};
use super::{Fault, Frame};
use crate::trade::roster::{Athlete, AthleteId, TeamId};

/// Athletes by everything that a file may call them.
pub(super) struct Index {
    athletes: Vec<Athlete>,
    /// Whether all rows could be read; if not, a name that is not found may be one of those.
    sure: bool,
    ids: BTreeMap<String, usize>,
    names: BTreeMap<String, Vec<usize>>,
    jerseys: BTreeMap<String, Vec<usize>>,
}

impl Index {
    /// Over these athletes; `sure` when there are no others.
    pub(super) fn new(athletes: &[Athlete], sure: bool) -> Self {
        let mut index = Self {
            athletes: athletes.to_vec(),
            sure,
            ids: BTreeMap::new(),
            names: BTreeMap::new(),
            jerseys: BTreeMap::new(),
        };
        for (place, athlete) in athletes.iter().enumerate() {
            index.ids.insert(athlete.id.0.clone(), place);
            let name = key(&format!("{}{}", athlete.first, athlete.last));
            index.names.entry(name).or_default().push(place);
            if let Some(jersey) = &athlete.jersey {
                index.jerseys.entry(jersey.clone()).or_default().push(place);
            }
        }
        index
    }

    /// The athlete meant by an id, a full name, or a jersey number that only one active athlete (of the team) wears.
    /// None when that cannot be told because rows of the roster have problems of their own.
    pub(super) fn find(
        &self,
        text: &str,
        team: Option<&TeamId>,
        frame: &Frame<'_>,
    ) -> Result<Option<AthleteId>, Fault> {
        let mut fits = self.at(self.ids.get(text));
        if fits.is_empty() {
            fits = self.named(text);
        }
        if fits.is_empty() {
            fits = self.wearing(text, team, frame);
        }
        match fits.as_slice() {
            [only] => Ok(Some(only.id.clone())),
            [] if !self.sure => Ok(None),
            [] => Err(Fault::new(
                format!("there is no athlete `{text}`"),
                "write an id, a full name or a jersey number from athletes.csv",
            )),
            many => {
                let ids: Vec<_> = many.iter().map(|athlete| format!("`{}`", athlete.id)).collect();
                let what = format!("`{text}` may be {}", ids.join(" or "));
                Err(Fault::new(what, "write the id"))
            }
        }
    }

    fn at<'i>(&'i self, places: impl IntoIterator<Item = &'i usize>) -> Vec<&'i Athlete> {
        places.into_iter().filter_map(|place| self.athletes.get(*place)).collect()
    }

    fn named(&self, text: &str) -> Vec<&Athlete> {
        let turned = text.split_once(',').map(|(last, first)| format!("{first} {last}"));
        let wanted = key(turned.as_deref().unwrap_or(text));
        let fits = self.at(self.names.get(&wanted).into_iter().flatten());
        let active: Vec<_> = fits.iter().copied().filter(|athlete| athlete.active).collect();
        if active.is_empty() { fits } else { active }
    }

    fn wearing(&self, text: &str, team: Option<&TeamId>, frame: &Frame<'_>) -> Vec<&Athlete> {
        let (numbers, rest): (Vec<_>, Vec<_>) = text
            .split([' ', '#', ',', '(', ')'])
            .filter(|part| !part.is_empty())
            .partition(|part| part.bytes().all(|byte| byte.is_ascii_digit()));
        let [jersey] = numbers.as_slice() else {
            return Vec::new();
        };
        let named = cell::find_team(&rest.join(" "), frame);
        if named.is_none() && !rest.is_empty() {
            return Vec::new();
        }
        let team = named.as_ref().or(team);
        let mut fits = self.at(self.jerseys.get(*jersey).into_iter().flatten());
        fits.retain(|athlete| athlete.active && team.is_none_or(|team| athlete.team == *team));
        fits
    }
}
