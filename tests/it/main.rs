//! Everything that is tested from outside the library.

mod practice;
