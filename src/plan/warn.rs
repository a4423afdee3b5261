//! What can be ridden but should be looked at, and fields that cannot be filled.
use super::model::Plan;
use super::read::Placed;
use crate::toml_table::Problems;
pub(super) fn check(_plan: &Plan, _placed: &Placed, _problems: &mut Problems) {}
