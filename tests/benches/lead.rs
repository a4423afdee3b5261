//! Rides ramps and steps on brakes of many kinds, with commands sent ahead and without, and prints how well the load
//! stood on its beat: `cargo bench --bench lead`. A word as argument rides only the brakes with it in their name;
//! `STILLROAD_LEAD_PICTURE=file.svg` draws the last of them.

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "lead/measure.rs"]
mod measure;
#[path = "lead/picture.rs"]
mod picture;
#[path = "lead/plants.rs"]
mod plants;
#[path = "lead/ride.rs"]
mod ride;

use measure::Measured;

fn main() {
    let only: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with("--"))
        .collect();
    println!("{}", measure::HEAD);
    for plant in plants::plants() {
        if !only.iter().all(|word| plant.name.contains(word.as_str())) {
            continue;
        }
        let without = ride::ride(&plant.config, None, false);
        // The second ride knows what the first, with other noise, has left.
        let first = ride::ride(&plant.config.clone().seeded(7), None, true);
        let with = ride::ride(&plant.config, first.remembers, true);
        let (before, after) = (Measured::of(&without), Measured::of(&with));
        if let Some(file) = std::env::var_os("STILLROAD_LEAD_PICTURE") {
            std::fs::write(file, picture::draw(&without, &with)).unwrap();
        }
        println!(
            "{}",
            measure::line(&plant.name, plant.dead, plant.lag, &before, &after, &with)
        );
        if std::env::var_os("STILLROAD_LEAD_DETAIL").is_some() {
            println!("    {}\n    {}", with.words, with.debug);
        }
    }
}
