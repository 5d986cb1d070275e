//! What can be written in a clause.
//!
//! # Keys
//!
//! A clause has one of `always`, `never`, `only` and `when`; `when` needs `then`.
//!
//! | key | holds | goes with |
//! |---|---|---|
//! | `always` | a condition; `E only after P for D`; `X does not change for D` (turn on, turn off, rise, fall); `S never turns on X`; `S never affects X` | `while`, `unless`, `reaction`; `for` instead of the span in `does not change` |
//! | `never` | a condition or an event; `more than N E within D` (N from 1 to 4) | `while`, `unless`, `reaction`; `within` instead of the span in `more than` |
//! | `only` | `S1, S2 change X` (or turn on, turn off, raise, lower) | `while`, `unless` |
//! | `when` | the trigger: an event, or a condition for its becoming true | `then`, `within`, `for`, `until`, `while`, `unless`, `reaction` |
//! | `then` | what must follow | |
//! | `within` | a span: the deadline for `then`; not with `for` | |
//! | `for` | a span: how long `then` stays so; longer than the reaction | |
//! | `until` | a condition or an event that ends it | |
//! | `while` | a condition: the clause is judged while it holds | |
//! | `unless` | what excuses: a condition, or an event where the clause forbids or asks for something that happens in an instant | |
//! | `reaction` | a span, or `0 s`: how long what is wrong may last | |
//!
//! # Expressions
//!
//! `not` binds tighter than `and`, `and` tighter than `or`; brackets may be used. What follows
//! a statement binds tightest: `P for 5 min`, `no E for 5 min`, `E2 within 10 s of E1`,
//! `(P) becomes true`.
//!
//! # Statements
//!
//! Names are written as in the files of the room, with or without `the` in front: `wall-sensor`,
//! `wall-unit/film`, `wall-unit/zone-a` (both buttons of the pair), `desk-lights`. `card`,
//! `clock`, `normal power`, `fire alarm` and `demand response` stand for the one source of that
//! kind. `any of`, `all of` and `none of` take a group or names with commas between them.
//!
//! | of | conditions | events |
//! |---|---|---|
//! | an output | `is on`, `is off`, `is occupied`, `is vacant`, `is in warning`, `is in setback`, `is latched`, `is by hand`, `is in emergency`, `is closed`, `is open`; target: `is 50 %` (exact to 0.5 %), `is at most 50 %`, `is at least 50 %`, `is below 50 %`, `is above 50 %`, `is between 20 % and 50 %`; the same with `asks` for the asked level and `shows` for the light | `turns on`, `turns off`, `rises`, `falls`, `changes` (any of the four), `becomes occupied`, `becomes vacant`, `warns` |
//! | an occupancy sensor | `is occupied`, `is vacant`, `is unknown`, `is lost` | `motion at S`, `sound at S`, `motion or sound at S`, or `S motion`, `S sound` |
//! | a wall unit or a button | `is down` | `press`, `release`, `tap`, `hold`, or `press of B` and the like |
//! | a card reader | `is in`, `is out`, `is unknown`, `is lost` | `in`, `out` |
//! | a daylight sensor | `is at least 300 lx`, `is at most`, `is below`, `is above`, `is unknown`, `is lost` | |
//! | a time clock | `is in hours`, `is after hours`, or just `in hours`, `after hours` | `sweeps`, or just `sweep` |
//! | normal power | `is present`, `is lost`, `is unknown` | |
//! | a fire alarm | `is sounding` (or `sounds`), `is quiet`, `is unknown`, `is lost` | |
//! | demand response | `is active` (or `sheds`), `is inactive`, `is unknown`, `is lost` | |
//! | any with a named state | | `becomes vacant`, `becomes lost`, … |
//! | a doer: a source, `S motion`, `S sound`, a button, `daylight`, `power`, `site`, `start` | | `turns on X`, `turns off X`, `raises X`, `lowers X`, `changes X`: judged on the root of the cause chain |
//!
//! `is not` negates. Spans are `15 min`, `1 h 30 min`, `30 s`, `0.5 s`, `100 ms`, `2 d`.
