/* A pair of buttons, a sensor with role manual-on, press hold and re-entry grace (SW-0, SW-3 to
 * SW-5, SW-12, OUT-3, OUT-8, OUT-18 to OUT-21). */
#include "../ticks.pml"

#define T 6
#define THRESHOLD 1
#define HOLD 6
#define GRACE 2

bool occupied;                 /* the sensor, and so the link */
bool held;                     /* press hold L runs */
bool busy;                     /* the output as a whole counts as occupied */
bool lamp, latch;
byte delay = IDLE, threshold = IDLE, hold = IDLE, grace = IDLE;
bool relights;                 /* the grace that runs is that of an automatic off */
byte down;                     /* the button that is down: 0 none, 1 up, 2 down */
bool pending;                  /* its press has decided nothing yet */
byte moved = LONG, pressed = LONG, by_hand_off = LONG;
bool by_eye, off_tap;

inline weigh() {
  if
  :: !busy && (occupied || held || pending) ->
     busy = true;
     /* Somebody is there before the latch was forgotten: it stays. */
     if
     :: runs(grace) && !relights -> grace = IDLE
     :: else
     fi
  :: busy && !(occupied || held || pending) ->
     busy = false;
     if
     :: lamp -> lamp = false; grace = GRACE; relights = true
     :: !lamp && latch -> grace = GRACE; relights = false
     :: else
     fi
  :: else
  fi
}

inline start_hold() {
  pending = false;
  latch = false;
  if
  :: lamp -> held = true; hold = HOLD; grace = IDLE
  :: else
  fi;
  weigh()
}

inline tap() {
  if
  :: down == 1 -> lamp = true; grace = IDLE; start_hold()
  :: down == 2 && lamp ->
     lamp = false;
     by_hand_off = 0;
     held = false;
     hold = IDLE;
     latch = busy;
     grace = IDLE;
     pending = false;
     weigh()
  :: down == 2 && !lamp -> pending = false; weigh()
  fi;
  off_tap = (down == 2)
}

inline held_long() {
  if
  :: down == 1 -> lamp = true; grace = IDLE; start_hold()
  :: down == 2 && lamp -> start_hold()
  :: else -> pending = false; weigh()
  fi
}

active proctype room() {
  do
  :: atomic {
       pass(delay);
       pass(threshold);
       pass(hold);
       pass(grace);
       age(moved);
       age(pressed);
       age(by_hand_off);
       by_eye = false;
       off_tap = false;
       if
       :: delay = T; moved = 0;
          if
          :: !occupied -> occupied = true;
             if
             :: runs(grace) && relights && !lamp -> lamp = true; by_eye = true; grace = IDLE
             :: else
             fi;
             weigh()
          :: else
          fi
       :: skip
       fi;
       if
       :: down == 0 -> down = 1; pending = true; threshold = THRESHOLD; pressed = 0; weigh()
       :: down == 0 -> down = 2; pending = true; threshold = THRESHOLD; pressed = 0; weigh()
       :: down != 0 ->
          if
          :: runs(threshold) -> threshold = IDLE; tap()
          :: else
          fi;
          down = 0
       :: skip
       fi;
       if
       :: due(delay) -> delay = IDLE; occupied = false; weigh()
       :: else
       fi;
       /* The controller's timers by slot: those of the output, then the threshold. */
       if
       :: due(grace) -> grace = IDLE; latch = false
       :: else
       fi;
       if
       :: due(hold) -> hold = IDLE; held = false; weigh()
       :: else
       fi;
       if
       :: due(threshold) -> threshold = IDLE; held_long()
       :: else
       fi;
#ifdef U1
       assert(!by_eye);
#endif
#ifdef U2
       assert(!(by_eye && by_hand_off <= 2));
#endif
#ifdef U3
       assert(!(by_eye && by_hand_off <= 9));
#endif
#ifdef U4
       assert(!((moved == 7 && pressed >= 7 || pressed == 7 && moved >= 7) && lamp));
#endif
#ifdef U5
       assert(!((moved == 6 && pressed >= 6 || pressed == 6 && moved >= 6) && lamp));
#endif
#ifdef U6
       assert(!(off_tap && lamp));
#endif
     }
  od
}
