//! The rooms, in the order of the job.

pub mod finish;
pub mod lead;
mod paper;
pub mod prepare;
pub mod review;
pub mod ride;
pub mod rider;
pub mod settings;
pub mod television;
pub mod write;
