//! Tests of the whole from outside: one binary, a module a subject.

mod plan;
