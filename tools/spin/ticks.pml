/* Discrete time for the models of this folder: a tick is five seconds, and every span of their
 * rooms is a whole number of ticks. At each tick time passes, then whatever may happen happens in
 * the order of ORD-1 (frames, stimuli by the name of their source, timers of devices by slot), and
 * then the clause is judged once. A timer counts the ticks that remain; it is due at 0.
 *
 * The models are written from the device reference in DEVELOPERS.md, not from the code. */
#define IDLE 255
#define LONG 20

#define runs(timer) (timer != IDLE)
#define due(timer) (timer == 0)

inline pass(timer) {
  if
  :: runs(timer) -> timer--
  :: else
  fi
}

/* How long ago something was, as far as anybody asks: LONG is long ago, or never. */
inline age(since) {
  if
  :: since < LONG -> since++
  :: else
  fi
}
