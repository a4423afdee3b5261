//! Session files, from text to plan.

use stillroad::plan;

#[test]
fn the_built_in_sessions_have_no_problem() {
    for (stem, text) in plan::builtin() {
        let reading = plan::read(text);
        assert_eq!(reading.problems, [], "{stem}");
        assert!(reading.plan.is_some(), "{stem}");
    }
}
