//! The gears of the bicycle on the trainer, as the rider entered them.

/// Chainrings and sprockets by their teeth; empty where the rider gave none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Drivetrain {
    /// Teeth of the chainrings, in the order of the file.
    pub chainrings: Vec<u16>,
    /// Teeth of the sprockets, in the order of the file.
    pub sprockets: Vec<u16>,
}

impl Drivetrain {
    /// Whether it says which gears there are: both were given.
    pub fn is_known(&self) -> bool {
        !self.chainrings.is_empty() && !self.sprockets.is_empty()
    }

    /// Turns of the wheel for one of the cranks, for each chainring from its easiest gear to its hardest; nothing where the
    /// gears are not known. What cannot be a tooth count, nought, is left out.
    pub fn ratios(&self) -> Vec<Vec<f64>> {
        if !self.is_known() {
            return Vec::new();
        }
        let mut sprockets: Vec<u16> = self
            .sprockets
            .iter()
            .copied()
            .filter(|&teeth| teeth > 0)
            .collect();
        sprockets.sort_unstable_by(|a, b| b.cmp(a));
        sprockets.dedup();
        let on = |ring: u16| {
            sprockets
                .iter()
                .map(|&sprocket| f64::from(ring) / f64::from(sprocket))
                .collect()
        };
        self.chainrings
            .iter()
            .copied()
            .filter(|&teeth| teeth > 0)
            .map(on)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gears_go_from_easy_to_hard_on_each_chainring() {
        let drivetrain = Drivetrain {
            chainrings: vec![50, 34],
            sprockets: vec![10, 25, 20],
        };
        assert_eq!(
            drivetrain.ratios(),
            [[2.0, 2.5, 5.0], [34.0 / 25.0, 1.7, 3.4]]
        );
        assert_eq!(Drivetrain::default().ratios(), Vec::<Vec<f64>>::new());
    }
}
