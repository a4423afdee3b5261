//! Legs and a brake of another structure than the program's own practice rider: the runner alone against a plant written
//! here, so that the guard is not proved on the model it was made beside.
//!
//! The crank drives a flywheel through one gear. The legs can give the torque of a straight line over cadence (Dorel et
//! al. 2005), scaled by freshness; freshness is lost in proportion to the torque used and comes back slowly. There is no
//! critical power and no W′ in it. The rider pushes by a proportional and integral habit, late by a nerve's delay, and the
//! torque of a turn comes in two strokes. The brake is of second order in torque, at the crank.

use std::collections::VecDeque;
use std::f64::consts::TAU;
use std::sync::Arc;

use stillroad::plan::Plan;
use stillroad::ride::{Demand, Facts, Offer, RideMode, Runner};
use stillroad::time::{Instant, Span};
use stillroad::units::{BrakeRange, BrakeTarget, Rpm, Watts};

use super::uncapped;
use crate::world::session;

const STEP: f64 = 0.01;

struct Plant {
    /// rad/s.
    turning: f64,
    /// Of legs, 0 to 1.
    fresh: f64,
    /// Torque at standstill of fresh legs, Nm, and the cadence at which there is none, rad/s.
    strength: f64,
    fastest: f64,
    /// Freshness lost a second at full torque.
    tires: f64,
    /// Brake torque, Nm, and its rate.
    brake: f64,
    brake_rate: f64,
    natural: f64,
    damping: f64,
    /// Watts on their way to the brake: seconds left, watts.
    waiting: VecDeque<(f64, f64)>,
    holds: f64,
    /// Cadence felt so long ago, and the integral of the rider's error.
    felt: VecDeque<f64>,
    integral: f64,
    angle: f64,
    wanted: f64,
    pushed: f64,
}

impl Plant {
    fn new(strength: f64, tires: f64, natural: f64, damping: f64, wanted: f64) -> Self {
        Self {
            turning: 0.0,
            fresh: 1.0,
            strength,
            fastest: 230.0 / 60.0 * TAU,
            tires,
            brake: 0.0,
            brake_rate: 0.0,
            natural,
            damping,
            waiting: VecDeque::new(),
            holds: 0.0,
            felt: VecDeque::from(vec![0.0; 15]),
            integral: 0.0,
            angle: 0.0,
            wanted: wanted / 60.0 * TAU,
            pushed: 0.0,
        }
    }

    fn rpm(&self) -> f64 {
        self.turning * 60.0 / TAU
    }

    fn step(&mut self) {
        for (left, _) in &mut self.waiting {
            *left -= STEP;
        }
        while self.waiting.front().is_some_and(|(left, _)| *left <= 0.0) {
            self.holds = self.waiting.pop_front().unwrap().1;
        }
        // The brake holds power down to 25 rpm, and then its torque.
        let asked = self.holds / self.turning.max(2.6) + 0.8;
        let push = self.natural * self.natural * (asked - self.brake)
            - 2.0 * self.damping * self.natural * self.brake_rate;
        self.brake_rate += push * STEP;
        self.brake = (self.brake + self.brake_rate * STEP).max(0.8);
        // The rider.
        self.felt.push_back(self.turning);
        let felt = self.felt.pop_front().unwrap();
        // From a standstill the aim itself rises.
        let aim = self.wanted.min(felt + 2.5);
        let error = aim - felt;
        self.integral = (self.integral + error * STEP * 8.0).clamp(0.0, self.strength);
        let most = self.strength * self.fresh * (1.0 - self.turning / self.fastest).max(0.0);
        let mean = (25.0 * error + self.integral).clamp(0.0, most);
        let stroke = 1.0 + 0.35 * (2.0 * self.angle).cos();
        self.pushed = mean * stroke;
        let used = mean / self.strength;
        self.fresh += (-self.tires * used * self.fresh + 0.004 * (1.0 - self.fresh)) * STEP;
        // At the crank: 12 kg at a rim of 5.5 m a turn are m·(d/2π)² = 9.2 kg·m².
        const INERTIA: f64 = 9.2;
        self.turning = (self.turning + (self.pushed - self.brake) / INERTIA * STEP).max(0.0);
        self.angle += self.turning * STEP;
    }
}

/// A rider of this strength (Nm), who tires so fast, rides watts at a cadence; reports come each `period` seconds as
/// whole revolutions averaged since the last.
struct Case {
    strength: f64,
    tires: f64,
    watts: f64,
    cadence: f64,
    natural: f64,
    damping: f64,
    period: f64,
}

fn plan(case: &Case) -> Arc<Plan> {
    session(&format!(
        "[[block]]\nkind = \"hold\"\ntime = \"6:00\"\nwatts = {}\ncadence = [{}, {}]\n",
        case.watts,
        case.cadence - 6.0,
        case.cadence + 6.0
    ))
}

/// The longest way back into the band after the guard acted, how often it acted, and the seconds under 20 rpm.
fn ride(case: &Case, guarded: bool) -> (f64, usize, f64) {
    let mut plant = Plant::new(
        case.strength,
        case.tires,
        case.natural,
        case.damping,
        case.cadence,
    );
    let rider = Arc::new(uncapped(200.0));
    let mut runner = Runner::new(plan(case), rider, RideMode::TargetPower, Instant::ZERO);
    let mut facts = Facts {
        offer: Offer {
            power: Some(BrakeRange {
                least: 0.0,
                most: 1500.0,
                step: 1.0,
            }),
            ..Offer::default()
        },
        ..Facts::default()
    };
    let low = case.cadence - 6.0;
    let (mut longest, mut acts, mut stopped) = (0.0_f64, 0, 0.0);
    let (mut acted, mut acting) = (None, false);
    let (mut sum, mut work, mut count) = (0.0, 0.0, 0);
    let mut sent = 0.0;
    for step in 0..35_000_u64 {
        let t = step as f64 * STEP;
        plant.step();
        sum += plant.rpm();
        work += plant.brake * plant.turning;
        count += 1;
        let now = Instant::ZERO + Span::from_seconds_f64(t);
        if f64::from(count) * STEP >= case.period {
            let cadence = Rpm((sum / f64::from(count)).round());
            let power = Watts((work / f64::from(count)).round());
            (sum, work, count) = (0.0, 0.0, 0);
            (facts.cadence, facts.most_cadence) = (Some(cadence), Some(cadence));
            (facts.power, facts.most_power) = (Some(power), Some(power));
        }
        if step % 25 == 0 {
            runner.see(now, &facts);
            let watts = match runner.demand(now, &facts) {
                Demand::Keep => sent,
                Demand::Release(why) => {
                    let stalling = why.contains("stalling");
                    if stalling && !acting {
                        acts += 1;
                        acted = Some(t);
                    }
                    acting = stalling;
                    if guarded { 0.0 } else { sent }
                }
                Demand::Target(ledger) => {
                    acting = false;
                    match ledger.target {
                        BrakeTarget::Power(watts) => watts.0,
                        _ => 0.0,
                    }
                }
            };
            sent = watts;
            plant.waiting.push_back((0.3, watts));
            // The trainer takes what it is told.
            facts.taken = Some(BrakeTarget::Power(Watts(watts)));
        }
        if t > 20.0 && plant.rpm() < 20.0 {
            stopped += STEP;
        }
        if plant.rpm() >= low
            && let Some(since) = acted.take()
        {
            longest = longest.max(t - since);
        }
    }
    (
        acted.map_or(longest, |since| longest.max(350.0 - since)),
        acts,
        stopped,
    )
}

#[test]
fn legs_whose_strength_fades_are_let_go_and_back_in_the_band_within_eight_seconds() {
    println!(
        "strength tires watts   rpm natural damping reports | acts  back  stopped, and without a guard"
    );
    let (mut acted, mut stalled) = (0, 0);
    for (strength, tires) in [(90.0, 0.01), (130.0, 0.02), (190.0, 0.03)] {
        for share in [0.5, 0.7] {
            for cadence in [72.0, 90.0] {
                for (natural, damping) in [(6.0, 1.0), (2.5, 0.6)] {
                    for period in [0.25, 1.0] {
                        let most = strength * (1.0 - cadence / 230.0) * cadence / 60.0 * TAU;
                        let case = Case {
                            strength,
                            tires,
                            watts: (most * share).round(),
                            cadence,
                            natural,
                            damping,
                            period,
                        };
                        let (back, acts, stopped) = ride(&case, true);
                        let (_, _, left) = ride(&case, false);
                        println!(
                            "{strength:8} {tires:5} {:5} {cadence:5} {natural:7} {damping:7} {period:7} | {acts:4} {back:5.1} \
                             {stopped:8.1} {left:8.1}",
                            case.watts
                        );
                        acted += acts;
                        assert!(back <= 8.0, "not back in the band");
                        // A quick stall is over between two reports of one a second: feet may stand for a moment.
                        let may_stand = if period < 1.0 { 1.0 } else { 6.0 };
                        assert!(stopped < may_stand, "the legs stood still for {stopped} s");
                        stalled += usize::from(left > 10.0);
                    }
                }
            }
        }
    }
    println!(
        "{acted} acts; {stalled} of 48 rides end in legs that stand still where nothing lets them go"
    );
    assert!(acted > 20 && stalled > 10, "{acted} {stalled}");
}
