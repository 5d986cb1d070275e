//! Scripts for every row of the controller, one file per family of rows.

mod rig;

mod card;
mod clock;
mod contact;
mod daylight;
mod emergency;
mod exchange;
mod flaws;
mod invariants;
mod linear_room;
mod occupancy;
mod power;
mod pretence;
mod site;
mod switch;
mod teach;
mod view;
mod warning;
