//! What each form of clause means, as metric temporal logic.
//!
//! # Time
//!
//! Instants are whole milliseconds since the run began; the first is 0. A condition has one
//! value at each instant, its value at the instant's *end*, and keeps it until the next instant
//! at which anything happens: signals are piecewise constant and right-continuous. An event is
//! true at the instants at which it happens and false at all others. The grid of 1 ms is
//! therefore exact, and "the span D" below is a number of milliseconds.
//!
//! The operators are those of metric temporal logic (Koymans 1990; Maler and Nickovic 2004),
//! over samples; `t` is the instant of judging:
//!
//! | written | means |
//! |---|---|
//! | `G φ`, `G[a,b] φ` | φ at every instant from t on; at every instant from t + a to t + b |
//! | `F[a,b] φ` | φ at some instant from t + a to t + b |
//! | `H[a,b] φ` | t ≥ b, and φ at every instant from t − b to t − a: nothing is known of the time before the run |
//! | `O[a,b] φ` | φ at some instant from t − b to t − a |
//! | `φ S ψ`, `φ S[a,b] ψ` | ψ at some instant s (from t − b to t − a), and φ at every instant after s up to t |
//! | `φ W ψ` | φ at every instant from t on until (but not at) the first ψ, for ever without one |
//! | `↑φ` | `φ ∧ O[1,1] ¬φ`: φ becomes true; never at the first instant |
//!
//! A clause is broken in a run when its formula is false at instant 0; where the run ends
//! before a deadline nobody can say, and the clause is **open**.
//!
//! # Expressions
//!
//! | text | formula |
//! |---|---|
//! | `not P`, `P and Q`, `P or Q` | `¬P`, `P ∧ Q`, `P ∨ Q` |
//! | `P for D` | `H[0,D] P`: true from exactly D after P became true, or after the start |
//! | `no E for D` | `¬O[0,D−1] E`: true at the start, false from an E on, true again exactly D after it |
//! | `E2 within D of E1` | `E2 ∧ O[0,D] E1`, D included; both at one instant count |
//! | `P becomes true`, `X becomes vacant` | `↑P` |
//!
//! In the places of events (a trigger T, E1, E2) a condition stands for its becoming true. In
//! `E or P or Q` with an event and conditions, P or Q becoming true: `E ∨ ↑(P ∨ Q)`. In all
//! other places an event in an expression is simply true at its instants.
//!
//! # The allowance
//!
//! A room takes a moment to react: frames take time, contacts too. So what is wrong *while it
//! lasts* may last for the room's `reaction` (or the clause's own, by the key `reaction`; `0 s`
//! takes it away) before it breaks the clause: it must last longer. With r for the reaction:
//!
//! | what is wrong | allowance r |
//! |---|---|
//! | `never P`, `always P`: P says something of an output and also of a source or of a span (`for D`) | the reaction |
//! | `never P`, `always P`: any other condition P | 0, unless the clause has the key `reaction` |
//! | `never E`, and every form with an event that must not be | 0: it is over at once |
//! | Q missing under `for` or `until`: Q says something of an output | the reaction |
//! | Q missing under `for` or `until`: any other Q | 0, unless the clause has the key `reaction` |
//! | Q missing under `within D` | D |
//! | Q missing with none of `within`, `for`, `until` | the reaction stands for D |
//!
//! # Forms
//!
//! C is what stands under `while`, U what stands under `unless`; without them they are true
//! and false. `J = C ∧ ¬U`: the clause is judged.
//!
//! | clause | formula |
//! |---|---|
//! | `always P` | `G F[0,r] (P ∨ ¬J)` |
//! | `never P` | `G F[0,r] ¬(P ∧ J)` |
//! | `never more than N E within D` | `G ¬(E ∧ J ∧ at least N earlier E ∧ J from t − D on)`; N = 1: `G ¬(E ∧ J ∧ O[1,D] (E ∧ J))` |
//! | `only S1, S2 change X` | `G ¬(X changes ∧ the root of its cause chain is neither S1 nor S2 ∧ J)` |
//! | `S never turns on X` | `G ¬(X turns on ∧ the root of its cause chain is S ∧ J)` |
//! | `E only after P for D` | `G (E ∧ J → H[1,D] P)`: P from t − D until just before t |
//! | `E only after no E2 for D` | `G (E ∧ J → ¬O[0,D−1] E2)` |
//! | `X does not change for D` | `G ¬(E ∧ J ∧ O[1,D−1] E)`, E: X changes; a change exactly D after the last is none too soon |
//! | `when T then Q within D` | `G (T → F[0,D] (Q ∨ ¬J))` |
//! | `when T then Q` | the same, the reaction for D |
//! | `when T then Q for D` | `G (I → F[0,r] (Q ∨ ¬I))`, `I = J S[0,D−1] (T ∧ J)`: owed from T until just before D later |
//! | `when T then Q until R` | `G (I → F[0,r] (Q ∨ ¬I))`, `I = (J ∧ ¬R) S (T ∧ J ∧ ¬R)`: owed from T until just before R |
//! | `when T then Q for D until R` | the same, with `S[0,D−1]` |
//! | `when T then Q within D until R` | `G (I → F[0,D] (M ∨ ¬I)) ∧ G (M → F[0,r] (Q ∨ ¬M))`, I as under `until`, `M = I S (I ∧ Q)`: met since T |
//! | `S never affects X` | no formula: a fact of the dependency graph, see [`crate::Formula::never_affects`] |
//!
//! With r = 0, `J` true, these are the forms of the books (Dwyer, Avrunin and Corbett 1999;
//! Konrad and Cheng 2005): `G P`, `G (T → F[0,D] Q)`, `G (T → G[0,D−1] Q)`, `G (T → Q W R)`.
//!
//! # Deadlines
//!
//! A deadline is inclusive: Q at exactly D after T is in time, Q 1 ms later is not. The monitor
//! says **broken** 1 ms after the deadline, when the whole of the deadline's instant has been
//! judged and the thing was still missing. For the same reason an allowance r is used up when
//! what is wrong has been so at r + 1 instants in a row.
//!
//! # Finite monitors
//!
//! For `within` the earliest pending trigger counts (it is the strictest), for `for` the
//! latest; a trigger while an `until` is owed adds nothing. `within` with `for`, and "exactly D
//! after every trigger", would need a timer for each trigger and are refused.
//!
//! # Verdicts
//!
//! | verdict | when |
//! |---|---|
//! | broken | the formula is false, whatever comes |
//! | open | at the end a deadline or an allowance runs, or a `for D` is owed. An `until` whose Q holds is not open |
//! | held | neither, and the clause was exercised |
//! | never exercised | neither, and it was not |
//!
//! A clause with a trigger, a doer or an event in front is exercised when that happened while J
//! was true. `never P` (and `always P`, by its opposite) is exercised when each part of an
//! `and` has been true once while J was; beside `S turns on X` a condition counts only at an
//! instant at which S acted, or X turned on by whomever. A single part would break the clause, so there it
//! counts instead what the part speaks of: that the output changed, the source acted, and for
//! `S turns on X` that S acted and that X turned on; for `P for D` that P was true; for
//! `no E for D` that E happened; for `E2 within D of E1` that each of them did.
