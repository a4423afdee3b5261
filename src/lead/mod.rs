//! For whoever leads: what is said when, as a page during the ride, as a rehearsal without
//! devices and as a sheet to print. Pure functions on a plan.

mod page;
mod rehearsal;
mod sheet;

pub use page::{Page, Said, page};
pub use rehearsal::{Line, rehearse};
pub use sheet::sheet;
