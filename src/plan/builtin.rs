//! The sessions that come with the program.

/// Each built-in session: its file's stem, and its text.
pub fn builtin() -> &'static [(&'static str, &'static str)] {
    &[
        ("first-ride", include_str!("../../sessions/first-ride.toml")),
        (
            "steady-repeats",
            include_str!("../../sessions/steady-repeats.toml"),
        ),
        (
            "hard-sprints",
            include_str!("../../sessions/hard-sprints.toml"),
        ),
        ("step-test", include_str!("../../sessions/step-test.toml")),
        (
            "three-minutes",
            include_str!("../../sessions/three-minutes.toml"),
        ),
        (
            "recovery-spin",
            include_str!("../../sessions/recovery-spin.toml"),
        ),
    ]
}
