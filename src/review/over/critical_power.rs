//! Critical power and W′ from efforts that were maximal, by the two-parameter models (Monod & Scherrer 1965; Hill 1993).
//!
//! Ordinary rides' best means are no maximal efforts: only what was named as one counts.

use serde::Serialize;

/// The fewest efforts.
pub const FEWEST: usize = 3;
/// The shortest and the longest effort, s: 2 to 15 min.
pub const LENGTHS: (f64, f64) = (120.0, 900.0);
/// The greatest change in a step at which the search for the hyperbola stops, as a share.
const ENOUGH: f64 = 1e-12;
/// So many steps at most.
const MOST_STEPS: usize = 200;

/// A maximal effort: how long, and at what mean power.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Effort {
    /// s.
    pub seconds: f64,
    /// W.
    pub power_w: f64,
}

/// What a model found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Found {
    /// Critical power, W.
    pub critical_power_w: f64,
    /// W′, J.
    pub w_prime_j: f64,
    /// The standard error of critical power, W; none where there are no more efforts than parameters.
    pub critical_power_error_w: Option<f64>,
    /// The standard error of W′, J.
    pub w_prime_error_j: Option<f64>,
}

/// Critical power by both forms of the model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CriticalPower {
    /// The efforts that counted.
    pub efforts: Vec<Effort>,
    /// work = CP·t + W′, by least squares of work.
    pub by_work: Found,
    /// t = W′ / (P − CP), by least squares of time; none where the search does not settle.
    pub by_time: Option<Found>,
}

/// Why there is none.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// Too few.
    #[error(
        "Critical power needs {FEWEST} maximal efforts of different lengths at least, and there are {0}. Name more of them."
    )]
    TooFew(usize),
    /// One is too short or too long.
    #[error(
        "An effort of {0:.0} s is outside 2 to 15 minutes, where the model holds. Leave it out."
    )]
    Length(f64),
    /// One without a power.
    #[error("An effort without a mean power above nought counts for nothing. Leave it out.")]
    NoPower,
    /// No such figures fit.
    #[error(
        "The longer of these efforts were not the easier ones, so no critical power explains them. They were not all maximal."
    )]
    NoFit,
}

/// Critical power of maximal efforts.
///
/// # Errors
/// [`Refusal`].
pub fn critical_power(efforts: &[Effort]) -> Result<CriticalPower, Refusal> {
    for effort in efforts {
        if !(LENGTHS.0..=LENGTHS.1).contains(&effort.seconds) {
            return Err(Refusal::Length(effort.seconds));
        }
        if !(effort.power_w > 0.0 && effort.power_w.is_finite()) {
            return Err(Refusal::NoPower);
        }
    }
    let mut lengths: Vec<f64> = efforts
        .iter()
        .map(|effort| effort.seconds.round())
        .collect();
    lengths.sort_by(f64::total_cmp);
    lengths.dedup();
    if lengths.len() < FEWEST {
        return Err(Refusal::TooFew(lengths.len()));
    }
    let points: Vec<(f64, f64)> = efforts
        .iter()
        .map(|effort| (effort.seconds, effort.power_w * effort.seconds))
        .collect();
    let by_work =
        line(&points).filter(|found| found.critical_power_w > 0.0 && found.w_prime_j > 0.0);
    let by_work = by_work.ok_or(Refusal::NoFit)?;
    Ok(CriticalPower {
        efforts: efforts.to_vec(),
        by_time: hyperbola(efforts, &by_work),
        by_work,
    })
}

/// The line through points of time and work, with the standard errors of slope and height.
fn line(points: &[(f64, f64)]) -> Option<Found> {
    let count = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|point| point.0), mean(|point| point.1));
    let along: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
    if along <= 0.0 {
        return None;
    }
    let across: f64 = points
        .iter()
        .map(|point| (point.0 - x) * (point.1 - y))
        .sum();
    let slope = across / along;
    let height = y - slope * x;
    let rest: f64 = points
        .iter()
        .map(|point| (point.1 - height - slope * point.0).powi(2))
        .sum();
    let free = count - 2.0;
    let variance = (free > 0.0).then(|| rest / free);
    Some(Found {
        critical_power_w: slope,
        w_prime_j: height,
        critical_power_error_w: variance.map(|variance| (variance / along).sqrt()),
        w_prime_error_j: variance.map(|variance| (variance * (1.0 / count + x * x / along)).sqrt()),
    })
}

/// Least squares of time by Gauss and Newton from what the line found, each step halved until it is better.
fn hyperbola(efforts: &[Effort], from: &Found) -> Option<Found> {
    let least = efforts
        .iter()
        .map(|effort| effort.power_w)
        .fold(f64::INFINITY, f64::min);
    let rest = |cp: f64, w: f64| -> f64 {
        let rests = efforts
            .iter()
            .map(|effort| effort.seconds - w / (effort.power_w - cp));
        rests.map(|rest| rest * rest).sum()
    };
    let (mut cp, mut w) = (from.critical_power_w.min(least - 1.0), from.w_prime_j);
    let mut normal = [0.0; 3];
    for _ in 0..MOST_STEPS {
        normal = [0.0; 3];
        let mut right = [0.0; 2];
        for effort in efforts {
            let above = effort.power_w - cp;
            let slopes = [w / (above * above), 1.0 / above];
            let rest = effort.seconds - w / above;
            normal[0] += slopes[0] * slopes[0];
            normal[1] += slopes[0] * slopes[1];
            normal[2] += slopes[1] * slopes[1];
            right[0] += slopes[0] * rest;
            right[1] += slopes[1] * rest;
        }
        let whole = normal[0] * normal[2] - normal[1] * normal[1];
        if !(whole.is_finite() && whole > 0.0) {
            return None;
        }
        let step = [
            (right[0] * normal[2] - right[1] * normal[1]) / whole,
            (normal[0] * right[1] - normal[1] * right[0]) / whole,
        ];
        let now = rest(cp, w);
        let mut share = 1.0;
        let mut taken = false;
        for _ in 0..60 {
            let (next_cp, next_w) = (cp + step[0] * share, w + step[1] * share);
            if next_cp < least && next_w > 0.0 && rest(next_cp, next_w) <= now {
                (cp, w) = (next_cp, next_w);
                taken = true;
                break;
            }
            share /= 2.0;
        }
        let small = (step[0] * share).abs() <= ENOUGH * cp.abs()
            && (step[1] * share).abs() <= ENOUGH * w.abs();
        if !taken || small {
            break;
        }
    }
    let whole = normal[0] * normal[2] - normal[1] * normal[1];
    let free = efforts.len() as f64 - 2.0;
    let variance = (free > 0.0 && whole > 0.0).then(|| rest(cp, w) / free);
    (cp > 0.0 && w > 0.0).then_some(Found {
        critical_power_w: cp,
        w_prime_j: w,
        critical_power_error_w: variance.map(|variance| (variance * normal[2] / whole).sqrt()),
        w_prime_error_j: variance.map(|variance| (variance * normal[0] / whole).sqrt()),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn efforts(of: &[(f64, f64)]) -> Vec<Effort> {
        of.iter()
            .map(|&(seconds, power_w)| Effort { seconds, power_w })
            .collect()
    }

    fn near(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() <= 1e-6 * expected.abs().max(1.0),
            "{found} for {expected}"
        );
    }

    #[test]
    fn the_published_example_is_found_exactly() {
        // CP 250 W and W′ 20 kJ: 300, 350 and 450 W last 400, 200 and 100 s (Monod & Scherrer 1965; Hill 1993). 100 s is
        // under two minutes; 400 W lasts 133.3 s by the same equation.
        let found = critical_power(&efforts(&[
            (400.0, 300.0),
            (200.0, 350.0),
            (20_000.0 / 150.0, 400.0),
        ]))
        .unwrap();
        for model in [found.by_work, found.by_time.unwrap()] {
            near(model.critical_power_w, 250.0);
            near(model.w_prime_j, 20_000.0);
            assert!(model.critical_power_error_w.unwrap() < 1e-3);
        }
    }

    #[test]
    fn scattered_efforts_are_fitted_as_by_scipy() {
        // scipy 1.17: stats.linregress(t, P·t) and optimize.curve_fit(lambda P, cp, w: w / (P - cp), P, t), by
        // tests/oracles/review_over.py.
        let found = critical_power(&efforts(&[
            (130.0, 402.0),
            (185.0, 351.0),
            (300.0, 322.0),
            (480.0, 291.0),
            (840.0, 272.0),
        ]))
        .unwrap();
        near(found.by_work.critical_power_w, 248.384_884_854_392_6);
        near(found.by_work.w_prime_j, 20_266.049_561_350_068);
        near(
            found.by_work.critical_power_error_w.unwrap(),
            2.310_805_377_454_003_4,
        );
        near(
            found.by_work.w_prime_error_j.unwrap(),
            1_072.534_868_904_234_1,
        );
        let by_time = found.by_time.unwrap();
        near(by_time.critical_power_w, 246.817_166_902_523_16);
        near(by_time.w_prime_j, 21_179.327_973_718_686);
        near(
            by_time.critical_power_error_w.unwrap(),
            1.391_498_922_074_503_8,
        );
        near(by_time.w_prime_error_j.unwrap(), 1_004.962_961_101_684_8);
    }

    #[test]
    fn what_cannot_be_right_is_refused() {
        let refused = |of: &[(f64, f64)]| critical_power(&efforts(of)).unwrap_err();
        assert_eq!(
            refused(&[(400.0, 300.0), (200.0, 350.0)]),
            Refusal::TooFew(2)
        );
        // The same length three times tells nothing of the slope.
        assert_eq!(
            refused(&[(400.0, 300.0), (400.0, 301.0), (400.0, 299.0)]),
            Refusal::TooFew(1)
        );
        assert_eq!(
            refused(&[(100.0, 450.0), (200.0, 350.0), (400.0, 300.0)]),
            Refusal::Length(100.0)
        );
        assert_eq!(
            refused(&[(901.0, 250.0), (200.0, 350.0), (400.0, 300.0)]),
            Refusal::Length(901.0)
        );
        assert_eq!(
            refused(&[(400.0, f64::NAN), (200.0, 350.0), (300.0, 300.0)]),
            Refusal::NoPower
        );
        // Longer and harder: W′ would be below nought.
        assert_eq!(
            refused(&[(200.0, 250.0), (400.0, 300.0), (800.0, 350.0)]),
            Refusal::NoFit
        );
    }
}
