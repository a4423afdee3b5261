//! A session file walked by hand: the blocks in the order in which they are ridden, and what they ask for.

/// The threshold of the rider, W.
pub const THRESHOLD: f64 = 220.0;

/// What an effort of 0 to 9 asks for as a share of threshold (common practice, no source; the table in the manual).
const SHARES: [f64; 10] = [0.0, 0.20, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02];

/// One block.
pub struct Block {
    pub kind: String,
    /// When it begins, seconds.
    pub start: f64,
    pub seconds: u64,
    pub from: f64,
    pub to: f64,
    /// Watts, where they are written as such or as a share of threshold instead of an effort.
    pub watts: Option<f64>,
    /// Whether the brake imitates a slope.
    pub slope: bool,
    /// How long a rise to its load takes, seconds.
    pub build_up: f64,
    /// The middle of its band, rpm; 85 where it has none.
    pub cadence: f64,
    /// Whether the brake holds watts in it, by the rule that a short sprint is ridden against a level.
    pub brake_held: bool,
}

impl Block {
    pub fn line(&self) -> bool {
        self.from != self.to
    }

    /// Whether it has a figure in watts that the brake holds.
    pub fn held(&self) -> bool {
        self.brake_held && self.from.max(self.to) <= 9.0
    }

    pub fn effort_at(&self, into: f64) -> Option<f64> {
        if self.watts.is_some() || self.slope {
            return None;
        }
        Some(self.from + (self.to - self.from) * into / self.seconds as f64)
    }

    /// The watts at so many seconds into the block; none where it is all out.
    pub fn watts_at(&self, into: f64) -> Option<f64> {
        if self.watts.is_some() {
            return self.watts;
        }
        let effort = self.effort_at(into)?;
        if effort > 9.0 {
            return None;
        }
        let below = (effort.floor() as usize).min(8);
        let share = SHARES[below] + (SHARES[below + 1] - SHARES[below]) * (effort - below as f64);
        Some(share * THRESHOLD)
    }
}

/// "m:ss" or "h:mm:ss" in seconds.
fn clock(text: &str) -> u64 {
    text.split(':')
        .fold(0, |sum, part| sum * 60 + part.parse::<u64>().unwrap())
}

fn number(value: &toml::Value) -> f64 {
    value
        .as_float()
        .or_else(|| value.as_integer().map(|whole| whole as f64))
        .unwrap()
}

fn add(table: &toml::Table, blocks: &mut Vec<Block>) {
    if let Some(times) = table.get("repeat") {
        for _ in 0..times.as_integer().unwrap() {
            for inner in table["block"].as_array().unwrap() {
                add(inner.as_table().unwrap(), blocks);
            }
        }
        return;
    }
    let (from, to) = match table.get("effort") {
        Some(toml::Value::Array(pair)) => (number(&pair[0]), number(&pair[1])),
        Some(steady) => (number(steady), number(steady)),
        None => (0.0, 0.0),
    };
    let kind = table["kind"].as_str().unwrap().to_owned();
    let written = table.get("brake").and_then(toml::Value::as_str);
    let slope = table.contains_key("slope");
    let share = table
        .get("threshold")
        .map(|share| number(share) * THRESHOLD);
    let build_up = table.get("build_up").and_then(toml::Value::as_str);
    let last = blocks.last();
    blocks.push(Block {
        start: last.map_or(0.0, |block| block.start + block.seconds as f64),
        seconds: clock(table["time"].as_str().unwrap()),
        brake_held: written.map_or(kind != "sprint" && !slope, |brake| brake == "held"),
        kind,
        from,
        to,
        watts: table.get("watts").map(number).or(share),
        slope,
        build_up: build_up.map_or(10.0, |time| clock(time) as f64),
        cadence: match table.get("cadence") {
            Some(toml::Value::Array(band)) => (number(&band[0]) + number(&band[1])) / 2.0,
            Some(steady) => number(steady),
            None => 85.0,
        },
    });
}

/// The blocks of a session, and a check against the lengths that its own head gives.
pub fn walk(text: &str) -> Vec<Block> {
    let table: toml::Table = text.parse().unwrap();
    let mut blocks = Vec::new();
    for block in table["block"].as_array().unwrap() {
        add(block.as_table().unwrap(), &mut blocks);
    }
    if let Some(whole) = table.get("whole") {
        let sum: u64 = blocks.iter().map(|block| block.seconds).sum();
        assert_eq!(sum, clock(whole.as_str().unwrap()));
    }
    blocks
}
