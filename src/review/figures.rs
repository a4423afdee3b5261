//! The formulae: each a pure function of numbers, with its source and its units.

/// Food energy for a work done: kilojoules in a kilocalorie.
const KILOJOULES_A_KILOCALORIE: f64 = 4.184;

/// The share of food energy that becomes work at the pedals, assumed: measured efficiency of trained riders lies about
/// 0.20 to 0.25 (Moseley & Jeukendrup 2001).
pub const EFFICIENCY: f64 = 0.22;
/// The least efficiency that is reckoned with.
pub const EFFICIENCY_LEAST: f64 = 0.20;
/// The greatest efficiency that is reckoned with.
pub const EFFICIENCY_MOST: f64 = 0.25;

/// The mean; none of nothing.
pub fn mean(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0_u32);
    for value in values {
        sum += value;
        count += 1;
    }
    (count > 0).then(|| sum / f64::from(count))
}

/// The standard deviation of all values there are (the block is measured whole, so the divisor is their number).
pub fn deviation(values: &[f64]) -> Option<f64> {
    let mean = mean(values.iter().copied())?;
    let squares = values.iter().map(|value| (value - mean).powi(2));
    Some((squares.sum::<f64>() / values.len() as f64).sqrt())
}

/// Unevenness: the standard deviation over the mean, as a share. None where the mean is not above zero.
pub fn unevenness(values: &[f64]) -> Option<f64> {
    let mean = mean(values.iter().copied()).filter(|mean| *mean > 0.0)?;
    Some(deviation(values)? / mean)
}

/// The slope of the least-squares line through points (x, y); none where all x are the same.
pub fn slope(points: &[(f64, f64)]) -> Option<f64> {
    let x = mean(points.iter().map(|point| point.0))?;
    let y = mean(points.iter().map(|point| point.1))?;
    let along: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
    let across: f64 = points
        .iter()
        .map(|point| (point.0 - x) * (point.1 - y))
        .sum();
    (along > 0.0).then(|| across / along)
}

/// Torque at the crank in Nm for a power in W and a cadence in rpm: P = T·ω. None where the crank stands.
pub fn torque(power: f64, cadence: f64) -> Option<f64> {
    (cadence > 0.0).then(|| power / (cadence * std::f64::consts::TAU / 60.0))
}

/// Food energy in kcal for a work in J at an efficiency.
pub fn food_energy(work: f64, efficiency: f64) -> f64 {
    work / 1000.0 / efficiency / KILOJOULES_A_KILOCALORIE
}

/// The fatigue index of a sprint, or of several: (best − worst) / best, as a share. None where the best is not above
/// zero.
pub fn fatigue_index(best: f64, worst: f64) -> Option<f64> {
    (best > 0.0).then(|| (best - worst) / best)
}

/// The decrement over several sprints: 1 − mean / best, as a share (Glaister 2008). None of fewer than two.
pub fn decrement(powers: &[f64]) -> Option<f64> {
    if powers.len() < 2 {
        return None;
    }
    let best = powers.iter().copied().fold(f64::MIN, f64::max);
    let mean = mean(powers.iter().copied())?;
    (best > 0.0).then(|| 1.0 - mean / best)
}

/// The load of a session: one rating out of ten for the whole of it × minutes (Foster 2001). On our own scale of effort,
/// so it is compared with nobody's published loads.
pub fn session_load(rating: f64, seconds: f64) -> f64 {
    rating * seconds / 60.0
}

/// The middle value; the lower of the two middle ones of an even number.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len().checked_sub(1)? / 2;
    values.get(middle).copied()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn near(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "{found} for {expected}");
    }

    #[test]
    fn torque_is_power_over_turning() {
        // Mechanics: 250 W at 90 rpm = 26.526 Nm; 1000 W at 120 rpm = 79.577 Nm.
        near(torque(250.0, 90.0).unwrap(), 26.526, 5e-4);
        near(torque(1000.0, 120.0).unwrap(), 79.577, 5e-4);
        assert_eq!(torque(100.0, 0.0), None);
    }

    #[test]
    fn food_energy_is_work_over_efficiency() {
        // 720 kJ at 0.20, 0.22, 0.25 (Moseley & Jeukendrup 2001): 860.4, 782.2, 688.3 kcal.
        for (efficiency, kcal) in [(0.20, 860.4), (0.22, 782.2), (0.25, 688.3)] {
            near(food_energy(720_000.0, efficiency), kcal, 0.05);
        }
    }

    #[test]
    fn sprints_are_compared_by_the_published_indices() {
        // The Wingate index: 900 W falling to 500 W is 44.44 %.
        near(fatigue_index(900.0, 500.0).unwrap(), 0.4444, 5e-5);
        assert_eq!(fatigue_index(0.0, 0.0), None);
        // Glaister 2008: these six have a decrement of 6.354 %.
        let six = [800.0, 780.0, 760.0, 735.0, 720.0, 700.0];
        near(decrement(&six).unwrap(), 0.06354, 5e-6);
        assert_eq!(decrement(&six[..1]), None);
    }

    #[test]
    fn the_load_is_rating_times_minutes() {
        // Foster 2001: 7 × 45 min = 315.
        near(session_load(7.0, 2700.0), 315.0, 1e-9);
    }

    #[test]
    fn the_slope_is_that_of_the_line() {
        // A line from 140 to 147 bpm over 20 min rises by 3.5 bpm in 10 min.
        let line: Vec<_> = (0..=1200)
            .map(|second| (f64::from(second), 140.0 + 7.0 * f64::from(second) / 1200.0))
            .collect();
        near(slope(&line).unwrap() * 600.0, 3.5, 1e-9);
        assert_eq!(slope(&[(1.0, 2.0), (1.0, 3.0)]), None);
        assert_eq!(slope(&[]), None);
    }

    #[test]
    fn the_spread_is_that_of_all_values() {
        // numpy.std([2, 4, 4, 4, 5, 5, 7, 9]) is 2, their mean 5.
        let values = [2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0];
        near(deviation(&values).unwrap(), 2.0, 1e-12);
        near(unevenness(&values).unwrap(), 0.4, 1e-12);
        assert_eq!(unevenness(&[0.0, 0.0]), None);
        assert_eq!(deviation(&[]), None);
        assert_eq!(median(vec![3.0, 1.0, 2.0, 9.0]), Some(2.0));
        assert_eq!(median(vec![]), None);
    }
}
