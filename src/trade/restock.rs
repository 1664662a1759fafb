//! When to order, and how much: from use where there is enough of it to learn from, from the par level until then.
//!
//! Reorder point = mean demand over the lead time + safety stock. For a few pieces a week demand is no bell curve: where
//! it is small the safety stock comes from the Poisson distribution, or the negative binomial when use varies more than that.

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF as _, DiscreteCDF as _, NegativeBinomial, Normal, Poisson};

/// How a program orders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Probability that what is there lasts until the order comes.
    pub service: f64,
    /// Days from ordering to having it, where an item has none of its own.
    pub lead_days: i64,
    /// Days that an order should last beyond that.
    pub cover_days: i64,
}

impl Default for Terms {
    /// 95 in 100; two weeks; four weeks. Common practice, no published source.
    fn default() -> Self {
        Self { service: 0.95, lead_days: 14, cover_days: 28 }
    }
}

/// Weeks of use before it counts: with fewer the spread is guesswork (with 8 weeks its own standard error is a quarter).
pub const ENOUGH_WEEKS: usize = 8;
/// Mean demand over the lead time from which the bell curve serves.
const LARGE: f64 = 20.0;

/// Mean and spread of use a week.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Use {
    /// Mean a week.
    pub mean: f64,
    /// Standard deviation of a week's use.
    pub deviation: f64,
    /// Weeks that it is learned from.
    pub weeks: usize,
}

impl Use {
    /// From what was used on which day, over whole weeks up to a day. None without a week.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "pieces and weeks")]
    pub fn learn(used: &[(NaiveDate, i64)], since: NaiveDate, today: NaiveDate) -> Option<Self> {
        let weeks = usize::try_from((today - since).num_days() / 7).ok().filter(|weeks| *weeks > 0)?;
        let first = today - TimeDelta::days(7 * i64::try_from(weeks).ok()?);
        let mut by_week = vec![0.0_f64; weeks];
        for (day, pieces) in used.iter().filter(|(day, _)| *day > first && *day <= today) {
            let week = usize::try_from(((*day - first).num_days() - 1) / 7).ok()?;
            if let Some(sum) = by_week.get_mut(week) {
                *sum += *pieces as f64;
            }
        }
        let mean = by_week.iter().sum::<f64>() / weeks as f64;
        let squares: f64 = by_week.iter().map(|sum| (sum - mean).powi(2)).sum();
        let deviation = if weeks > 1 { (squares / (weeks - 1) as f64).sqrt() } else { 0.0 };
        Some(Self { mean, deviation, weeks })
    }
}

/// Reorder point when demand and lead time vary: d·L + z·sqrt(L·σd² + d²·σL²). With σL = 0 only demand varies, with
/// σd = 0 only the lead time (textbooks of operations management, such as Heizer and Render, Stevenson).
#[must_use]
pub fn reorder_point(demand: f64, deviation: f64, lead: f64, lead_deviation: f64, z: f64) -> f64 {
    let spread = (lead * deviation.powi(2) + demand.powi(2) * lead_deviation.powi(2)).sqrt();
    demand * lead + z * spread
}

/// How many standard deviations cover a share of all cases.
#[must_use]
pub fn z(service: f64) -> f64 {
    Normal::standard().inverse_cdf(service.clamp(0.5, 0.9999))
}

/// The fewest pieces that cover a share of all cases of a demand with this mean and variance.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "pieces")]
pub fn pieces(mean: f64, variance: f64, service: f64) -> i64 {
    if mean <= 0.0 {
        return 0;
    }
    let service = service.clamp(0.5, 0.9999);
    if mean >= LARGE {
        return (mean + z(service) * variance.sqrt()).ceil() as i64;
    }
    let covered = |pieces: u64| -> bool {
        let share = if variance > mean * 1.05 {
            let p = mean / variance;
            NegativeBinomial::new(mean * p / (1.0 - p), p).map(|law| law.cdf(pieces))
        } else {
            Poisson::new(mean)
                .map(|law| law.cdf(pieces))
                .map_err(|_| statrs::distribution::NegativeBinomialError::RInvalid)
        };
        share.unwrap_or(1.0) >= service
    };
    (0..10_000).find(|pieces| covered(*pieces)).unwrap_or(0) as i64
}

/// When to order an item, and up to how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Policy {
    /// Order when there are no more than this, with what is on order.
    pub at: i64,
    /// Order up to this.
    pub up_to: i64,
    /// Whether it was learned from use; else it is the par level.
    pub learned: bool,
}

/// The policy of an item. Until there are [`ENOUGH_WEEKS`] of use it is: below par, up to par. Learned, it never goes below
/// what a kit has to hold, so par stays the least that is ordered up to.
#[must_use]
pub fn policy(par: i64, lead_days: i64, terms: &Terms, used: Option<Use>) -> Policy {
    let Some(used) = used.filter(|used| used.weeks >= ENOUGH_WEEKS) else {
        return Policy { at: (par - 1).max(0), up_to: par, learned: false };
    };
    #[expect(clippy::cast_precision_loss, reason = "days")]
    let weeks = |days: i64| days.max(1) as f64 / 7.0;
    let over = |weeks: f64| pieces(used.mean * weeks, used.deviation.powi(2) * weeks, terms.service);
    let at = over(weeks(lead_days));
    let up_to = over(weeks(lead_days + terms.cover_days)).max(at + 1).max(par);
    Policy { at, up_to, learned: true }
}

/// How many to order now; 0 for none.
#[must_use]
pub fn order(count: i64, on_order: i64, policy: Policy) -> i64 {
    let coming = count + on_order;
    if coming <= policy.at && policy.up_to > coming { policy.up_to - coming } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(left: f64, right: f64, within: f64) {
        assert!((left - right).abs() <= within, "{left} is not {right}");
    }

    /// Stevenson, Operations Management, 14th edition, chapter 12, examples 8 and 9; Heizer and Render, chapter 12, solved
    /// problem and examples; Render and Stair. With the z values that the books print.
    #[test]
    fn published_reorder_points() {
        // Lead-time demand 50 with deviation 5, risk 3 %.
        close(reorder_point(50.0, 5.0, 1.0, 0.0, 1.88), 59.40, 0.005);
        // 60 a week, lead time 6 weeks with deviation 2, 90 %.
        close(reorder_point(60.0, 0.0, 6.0, 2.0, 1.28), 513.6, 0.05);
        close(reorder_point(350.0, 10.0, 1.0, 0.0, 1.65), 366.5, 0.05);
        close(reorder_point(5.0, 2.0, 3.0, 0.0, 1.65), 20.7, 0.05);
        close(reorder_point(50.0, 3.0, 2.0, 0.0, 1.28), 105.43, 0.005);
        close(reorder_point(150.0, 16.0, 5.0, 1.0, 1.88), 1040.0, 0.5);
    }

    /// z by cycle service level, as the tables print it.
    #[test]
    fn z_is_that_of_the_tables() {
        for (service, expected) in [
            (0.80, 0.8416),
            (0.85, 1.0364),
            (0.90, 1.2816),
            (0.95, 1.6449),
            (0.97, 1.8808),
            (0.99, 2.3263),
            (0.999, 3.0902),
        ] {
            close(z(service), expected, 0.000_05);
        }
    }

    /// Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd edition, example 4.3 and its Poisson case: holding 0.18,
    /// stock-out 0.70, so a share of 0.70/0.88 is covered; demand with mean 50.
    #[test]
    fn published_quantiles_of_demand() {
        let share = 0.70 / 0.88;
        close(50.0 + 8.0 * z(share), 56.603_955_927_433_89, 1e-6);
        let poisson = Poisson::new(50.0).unwrap();
        assert_eq!((0..200).find(|pieces| poisson.cdf(*pieces) >= share), Some(56));
        assert_eq!(pieces(50.0, 64.0, share), 57);
    }

    /// Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.6: the predictive distribution of Gamma(6, 7) over an
    /// exposure of 2 has mean 1.714, variance 2.204, and P(at most 3) = .8822, P(at most 4) = .9502.
    #[test]
    fn small_demand_that_varies_is_negative_binomial() {
        let (mean, variance) = (12.0 / 7.0, 12.0 / 7.0 * (1.0 + 2.0 / 7.0));
        assert_eq!(pieces(mean, variance, 0.88), 3);
        assert_eq!(pieces(mean, variance, 0.89), 4);
        assert_eq!(pieces(mean, variance, 0.95), 4);
        assert_eq!(pieces(mean, variance, 0.951), 5);
    }

    #[test]
    fn until_there_is_enough_use_par_decides() {
        let terms = Terms::default();
        let few = Use { mean: 9.0, deviation: 1.0, weeks: ENOUGH_WEEKS - 1 };
        let policy_of = |used| policy(4, 14, &terms, used);
        assert_eq!(policy_of(None), Policy { at: 3, up_to: 4, learned: false });
        assert_eq!(policy_of(Some(few)), policy_of(None));
        let learned = policy_of(Some(Use { weeks: ENOUGH_WEEKS, ..few }));
        assert!(learned.learned && learned.at > 18 && learned.up_to > learned.at, "{learned:?}");
        assert_eq!(order(4, 0, policy_of(None)), 0);
        assert_eq!(order(3, 0, policy_of(None)), 1);
        assert_eq!(order(1, 3, policy_of(None)), 0, "what is on order counts");
        let never = policy(4, 14, &terms, Some(Use { mean: 0.0, deviation: 0.0, weeks: 20 }));
        assert_eq!((never.at, never.up_to), (0, 4), "what is never used is kept at par, and ordered when it is gone");
    }

    #[test]
    fn use_is_learned_from_whole_weeks() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let used = [(day("2026-08-04"), 2), (day("2026-08-05"), 1), (day("2026-08-12"), 1)];
        let learned = Use::learn(&used, day("2026-08-01"), day("2026-08-15")).unwrap();
        assert_eq!((learned.weeks, learned.mean), (2, 2.0));
        close(learned.deviation, 2.0_f64.sqrt(), 1e-12);
        assert_eq!(Use::learn(&used, day("2026-08-12"), day("2026-08-15")), None);
    }
}
