//! it
#[test]
fn t() {}
