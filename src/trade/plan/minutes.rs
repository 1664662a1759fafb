//! Minutes that a fix takes: the settings, drawn towards what this program's own closed items show.
//!
//! A shrinkage estimate on a logarithmic scale. Each closed item gives one residual, the logarithm of its minutes over
//! those that its flags were planned with. The program's own pace is the mean of all residuals, drawn towards 0 as if
//! [`PACE_WEIGHT`] items had taken exactly their setting; a kind's factor is the mean of its residuals, drawn towards that
//! pace as if [`KIND_WEIGHT`] items had shown it. So one slow strap changes little, thirty change what they should, and a
//! kind never seen follows the program's pace. It is the posterior mean of a normal model with known ratio of variances
//! (Efron and Morris, J Am Stat Assoc 1975;70:311-319), on logarithms because fix times are skewed; what it gives back is
//! a typical time, not a mean that one long job drags up. Residuals beyond a factor of [`MOST_OFF`] count as that much: a
//! "done" texted an hour late says little about the fix.

use std::collections::BTreeMap;

use crate::trade::flag::{Flag, Flags};

/// As if so many items had shown the settings' own pace.
pub const PACE_WEIGHT: f64 = 10.0;
/// As if so many items of a kind had shown the program's pace.
pub const KIND_WEIGHT: f64 = 5.0;
/// A fix counts as at most so many times its setting, and at least the inverse.
pub const MOST_OFF: f64 = 4.0;
/// Shorter is a list worked off in one go and texted afterwards, longer was left lying: neither says how long a fix takes.
const PLAUSIBLE: std::ops::RangeInclusive<f64> = 0.5..=240.0;

/// Minutes of work each flag takes.
///
/// The defaults are common practice, no published source.
#[derive(Debug, Clone, PartialEq)]
pub struct FixMinutes {
    by_flag: BTreeMap<Flag, f64>,
    look: f64,
}

impl Default for FixMinutes {
    fn default() -> Self {
        let by_flag =
            Flag::ALL.into_iter().filter(|flag| !flag.is_body()).map(|flag| (flag, default_minutes(flag))).collect();
        Self { by_flag, look: 3.0 }
    }
}

const fn default_minutes(flag: Flag) -> f64 {
    match flag {
        Flag::Strap | Flag::Air => 4.0,
        Flag::Cheeks => 5.0,
        Flag::Hardware | Flag::Loose | Flag::Tight => 8.0,
        Flag::Shell | Flag::Missing => 10.0,
        _ => 6.0,
    }
}

/// One closed item that was taken first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closed {
    /// What was off.
    pub flags: Flags,
    /// Minutes from taking to closing.
    pub minutes: f64,
}

impl FixMinutes {
    /// The defaults with some replaced, keyed by flag name, or `look` for an answer that was not understood.
    ///
    /// # Errors
    /// A sentence that names the key that is no helmet flag, or the minutes that make no sense.
    pub fn with(settings: &BTreeMap<String, u32>) -> Result<Self, String> {
        let mut minutes = Self::default();
        for (name, value) in settings {
            if *value == 0 || *value > 240 {
                return Err(format!("`{name}` = {value}: minutes are 1 to 240"));
            }
            let value = f64::from(*value);
            if name == "look" {
                minutes.look = value;
                continue;
            }
            match Flag::from_name(name).filter(|flag| !flag.is_body()) {
                Some(flag) => minutes.by_flag.insert(flag, value),
                None => return Err(format!("`{name}` is not a helmet flag")),
            };
        }
        Ok(minutes)
    }

    /// Draws the minutes towards what closed items show. Asked of the settings, not of what was learned before.
    #[must_use]
    pub fn learned(&self, closed: &[Closed]) -> Self {
        let residuals: Vec<(Flags, f64)> = closed.iter().filter_map(|item| self.residual(item)).collect();
        let all: f64 = residuals.iter().map(|(_, residual)| residual).sum();
        let pace = all / (count(residuals.len()) + PACE_WEIGHT);
        let drawn = |alone: Flags, setting: f64| {
            let own: Vec<f64> =
                residuals.iter().filter(|(flags, _)| *flags == alone).map(|(_, residual)| *residual).collect();
            let off = own.iter().map(|residual| residual - pace).sum::<f64>() / (count(own.len()) + KIND_WEIGHT);
            setting * (pace + off).exp()
        };
        let one = |flag: Flag| std::iter::once(flag).collect::<Flags>();
        Self {
            by_flag: self.by_flag.iter().map(|(flag, setting)| (*flag, drawn(one(*flag), *setting))).collect(),
            look: drawn(Flags::NONE, self.look),
        }
    }

    /// How far an item was off its setting, on a logarithmic scale; items with several flags tell of the pace alone.
    fn residual(&self, item: &Closed) -> Option<(Flags, f64)> {
        let planned = self.exactly(item.flags);
        if !PLAUSIBLE.contains(&item.minutes) || planned <= 0.0 {
            return None;
        }
        let most = MOST_OFF.ln();
        Some((item.flags.helmet(), (item.minutes / planned).ln().clamp(-most, most)))
    }

    fn exactly(&self, flags: Flags) -> f64 {
        let helmet = flags.helmet();
        if helmet.is_empty() { self.look } else { helmet.iter().filter_map(|flag| self.by_flag.get(&flag)).sum() }
    }

    /// Minutes for one item: its flags one after the other, or a look when there are none. At least 1.
    #[must_use]
    pub fn of(&self, flags: Flags) -> u32 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let minutes = self.exactly(flags).round().clamp(1.0, 10_000.0) as u32;
        minutes
    }
}

#[expect(clippy::cast_precision_loss, reason = "items of a season")]
const fn count(items: usize) -> f64 {
    items as f64
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn only(flag: Flag) -> Flags {
        std::iter::once(flag).collect()
    }

    fn closed(flag: Flag, minutes: f64, times: usize) -> Vec<Closed> {
        vec![Closed { flags: only(flag), minutes }; times]
    }

    #[test]
    fn without_closed_items_the_settings_stand() {
        let settings = FixMinutes::default();
        assert_eq!(settings.learned(&[]), settings);
        assert_eq!(settings.of(only(Flag::Strap)), 4);
        assert_eq!(settings.of(Flags::NONE), 3);
        assert!(FixMinutes::with(&[("symptom".to_owned(), 5)].into()).is_err());
        assert!(FixMinutes::with(&[("strap".to_owned(), 0)].into()).is_err());
    }

    /// By hand: one strap of 8 against 4 is a residual of ln 2. Pace: ln 2 / 11. Kind: pace + (ln 2 - pace) / 6.
    #[test]
    fn one_item_moves_its_kind_by_as_much_as_the_weights_say() {
        let learned = FixMinutes::default().learned(&closed(Flag::Strap, 8.0, 1));
        let pace = 2_f64.ln() / 11.0;
        let strap = 4.0 * (pace + (2_f64.ln() - pace) / 6.0).exp();
        assert!((learned.by_flag[&Flag::Strap] - strap).abs() < 1e-12);
        assert!((learned.by_flag[&Flag::Cheeks] - 5.0 * pace.exp()).abs() < 1e-12, "a kind unseen follows the pace");
        assert!(strap < 4.8, "{strap}: one item changes little");
    }

    #[test]
    fn many_items_of_a_kind_outweigh_its_setting() {
        let learned = FixMinutes::default().learned(&closed(Flag::Strap, 9.0, 60));
        assert_eq!(learned.of(only(Flag::Strap)), 9);
    }

    /// One "done" texted two hours late, and one texted at once, do not move a kind that has twenty ordinary ones.
    #[test]
    fn what_was_texted_late_or_all_at_once_hardly_counts() {
        let mut items = closed(Flag::Strap, 4.0, 20);
        let before = FixMinutes::default().learned(&items).of(only(Flag::Strap));
        items.extend(closed(Flag::Strap, 120.0, 1));
        items.extend(closed(Flag::Strap, 0.1, 1));
        items.extend(closed(Flag::Strap, 3_000.0, 1));
        assert_eq!(FixMinutes::default().learned(&items).of(only(Flag::Strap)), before);
    }

    proptest! {
        /// Between the setting and what was seen, and nearer to it the more was seen.
        #[test]
        fn an_estimate_lies_between_setting_and_sight(minutes in 1.0_f64..16.0, items in 1_usize..60) {
            let at = |count| FixMinutes::default().learned(&closed(Flag::Strap, minutes, count)).by_flag[&Flag::Strap];
            let (few, more) = (at(items), at(items + 1));
            let (low, high) = if minutes < 4.0 { (minutes, 4.0) } else { (4.0, minutes) };
            prop_assert!(few >= low - 1e-9 && few <= high + 1e-9);
            prop_assert!((more - minutes).abs() <= (few - minutes).abs() + 1e-9);
        }
    }
}
