//! One row for every ridden second: means that weigh by time, the last fresh values, work and W′ as they add up.

use crate::engine::command::Role;
use crate::engine::links::Sources;
use crate::record::Row;
use crate::ride::mean::Mean;
use crate::rider::{Rider, WBalance};
use crate::time::{Instant, Span};
use crate::units::{Joules, Metres, MetresPerSecond, Rpm, Watts};

/// One row a second.
pub const ROW: Span = Span::from_seconds(1);

/// The values between two rows.
#[derive(Clone, Debug)]
pub struct Rows {
    written: u64,
    power: Mean,
    could: Mean,
    cadence: Mean,
    speed: Mean,
    /// Whose device each quantity last came from; what went away keeps its source, since a mean may still hold of it.
    from: Sources,
    distance: Option<f64>,
    w_balance: WBalance,
    work: f64,
    /// Whether power was ever measured.
    measured: bool,
}

/// What the rows of a ride came to, as far as those that follow need it.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct CameTo {
    /// Distance so far.
    pub distance: Option<Metres>,
    /// Estimated W′ left; none while no power was ever measured.
    pub w_balance: Option<Joules>,
    /// Work done.
    pub work: Joules,
}

impl CameTo {
    /// Of kept rows. W′ was kept in whole joules.
    pub fn of(rows: &[Row]) -> Self {
        let power = rows.iter().filter_map(|row| row.power);
        Self {
            distance: rows.iter().rev().find_map(|row| row.distance),
            w_balance: rows.iter().rev().find_map(|row| row.w_balance),
            work: Joules(power.map(|power| power.0.max(0.0) * ROW.seconds()).sum()),
        }
    }
}

/// What a second came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Second {
    /// Its number, from 1.
    pub number: u64,
    /// Mean power.
    pub power: Option<Watts>,
    /// Whose device the power came from last.
    pub power_from: Option<Role>,
    /// Whose the cadence.
    pub cadence_from: Option<Role>,
    /// Mean power that the brake could have shown.
    pub could: Option<Watts>,
    /// Mean cadence.
    pub cadence: Option<Rpm>,
    /// Distance so far.
    pub distance: Option<Metres>,
    /// Estimated W′ left; none while no power was ever measured.
    pub w_balance: Option<Joules>,
}

impl Rows {
    /// Nothing ridden yet. Threshold power stands for critical power, which is usually a few per cent higher: the
    /// estimate errs on the tired side.
    pub fn new(rider: &Rider) -> Self {
        Self {
            written: 0,
            power: Mean::default(),
            could: Mean::default(),
            cadence: Mean::default(),
            speed: Mean::default(),
            from: Sources::default(),
            distance: None,
            w_balance: WBalance::full(rider.threshold, rider.w_prime),
            work: 0.0,
            measured: false,
        }
    }

    /// Goes on after so many rows of an earlier run of the program, with what they came to.
    pub fn take_up(&mut self, written: u64, came_to: &CameTo) {
        self.written = written;
        self.distance = came_to.distance.map(Metres::get);
        self.work = came_to.work.0;
        self.measured = came_to.w_balance.is_some();
        if let Some(left) = came_to.w_balance {
            self.w_balance.take_up(left);
        }
    }

    /// The power that the brake could show from `now` on; none where it holds none or its answer is not known.
    pub fn could(&mut self, now: Instant, could: Option<Watts>) {
        self.could.step(now, could.map(Watts::get));
    }

    /// The values that stand from `now` on; none while they are not fresh, or while the clock stands.
    pub fn stand(
        &mut self,
        now: Instant,
        power: Option<Watts>,
        cadence: Option<Rpm>,
        speed: Option<MetresPerSecond>,
    ) {
        self.power.step(now, power.map(Watts::get));
        self.cadence.step(now, cadence.map(Rpm::get));
        self.speed.step(now, speed.map(MetresPerSecond::get));
    }

    /// The ridden time at which the next row is due.
    pub fn due(&self) -> Span {
        ROW * (self.written + 1)
    }

    /// How many rows were written.
    pub const fn written(&self) -> u64 {
        self.written
    }

    /// Closes a second at its end.
    pub fn close(&mut self, at: Instant) -> Second {
        self.written += 1;
        let power = self.power.take(at);
        let could = self.could.take(at).map(Watts);
        let cadence = self.cadence.take(at);
        if let Some(speed) = self.speed.take(at) {
            self.distance = Some(self.distance.unwrap_or(0.0) + speed * ROW.seconds());
        }
        if let Some(power) = power {
            self.measured = true;
            self.w_balance.ride(Watts(power), ROW);
            self.work += power.max(0.0) * ROW.seconds();
        }
        Second {
            number: self.written,
            power: power.map(Watts),
            power_from: self.from.power.filter(|_| power.is_some()),
            cadence_from: self.from.cadence.filter(|_| cadence.is_some()),
            could,
            cadence: cadence.map(Rpm),
            distance: self.distance.map(Metres),
            w_balance: self.w_balance(),
        }
    }

    /// Whose device each quantity comes from now.
    pub fn from(&mut self, now: Sources) {
        self.from.power = now.power.or(self.from.power);
        self.from.cadence = now.cadence.or(self.from.cadence);
    }

    /// Estimated W′ left; none while no power was ever measured.
    pub fn w_balance(&self) -> Option<Joules> {
        self.measured.then(|| self.w_balance.left())
    }

    /// Work done, joules.
    pub const fn work(&self) -> f64 {
        self.work
    }
}

/// A second as a row; the rest of the row is filled by the core.
impl Second {
    /// Puts the second's own values into a row.
    pub fn fill(self, row: &mut Row) {
        row.ridden_s = self.number;
        row.power = self.power;
        row.power_from = self.power_from.map(Role::key);
        row.cadence_from = self.cadence_from.map(Role::key);
        row.could = self.could;
        row.cadence = self.cadence;
        row.distance = self.distance;
        row.w_balance = self.w_balance;
    }
}
