//! What a forecast through the whole core takes of the processor: `cargo bench --bench forecast`. Sessions that come with
//! the program, each the best and the middle of several, so that a busy machine tells little of itself.

#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::sync::Arc;
use std::time::Instant;

use stillroad::forecast::ride;
use stillroad::plan;
use stillroad::rider::Rider;

const TIMES: usize = 9;

fn main() {
    let only: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with("--"))
        .collect();
    println!(
        "{:24} {:>8} {:>9} {:>9} {:>13}",
        "session", "length", "best ms", "middle ms", "µs a second"
    );
    for (key, text) in plan::builtin() {
        if !only.iter().all(|word| key.contains(word.as_str())) {
            continue;
        }
        let plan = Arc::new(plan::read(text).plan.unwrap());
        let rider = Arc::new(Rider::default());
        let mut took: Vec<f64> = (0..TIMES)
            .map(|_| {
                let before = Instant::now();
                ride(&plan, &rider).unwrap();
                before.elapsed().as_secs_f64() * 1000.0
            })
            .collect();
        took.sort_by(f64::total_cmp);
        println!(
            "{key:24} {:>8} {:>9.1} {:>9.1} {:>13.1}",
            plan.length().to_string(),
            took[0],
            took[TIMES / 2],
            took[0] * 1000.0 / plan.length().seconds()
        );
    }
}
