//! The sessions that come with the program.

/// Each built-in session: its file's stem, and its text. First rides come first, tests last.
pub fn builtin() -> &'static [(&'static str, &'static str)] {
    &[
        ("first-ride", include_str!("../../sessions/first-ride.toml")),
        (
            "second-week",
            include_str!("../../sessions/second-week.toml"),
        ),
        ("short-day", include_str!("../../sessions/short-day.toml")),
        (
            "recovery-spin",
            include_str!("../../sessions/recovery-spin.toml"),
        ),
        (
            "cadence-stairs",
            include_str!("../../sessions/cadence-stairs.toml"),
        ),
        (
            "steady-repeats",
            include_str!("../../sessions/steady-repeats.toml"),
        ),
        ("ladder", include_str!("../../sessions/ladder.toml")),
        (
            "around-threshold",
            include_str!("../../sessions/around-threshold.toml"),
        ),
        (
            "slow-climbs",
            include_str!("../../sessions/slow-climbs.toml"),
        ),
        (
            "long-endurance",
            include_str!("../../sessions/long-endurance.toml"),
        ),
        (
            "hard-sprints",
            include_str!("../../sessions/hard-sprints.toml"),
        ),
        ("group-ride", include_str!("../../sessions/group-ride.toml")),
        ("step-test", include_str!("../../sessions/step-test.toml")),
        (
            "three-minutes",
            include_str!("../../sessions/three-minutes.toml"),
        ),
    ]
}
