/* A contact with a least time closed, and two sensors (VENT-1 to VENT-3, OUT-16). */
#include "../ticks.pml"

#define T 6
#define LEAST 12

bool aft, fore, closed, wish, turned_off;
byte aft_delay = IDLE, fore_delay = IDLE, least = IDLE;
byte since_on = LONG;
byte waits_6 = IDLE, waits_5 = IDLE;
bool nobody;           /* both were vacant at the last tick */

inline call() {
  wish = false;
  if
  :: !closed -> closed = true; least = LEAST; since_on = 0
  :: else
  fi
}

inline leave() {
  if
  :: !aft && !fore && closed ->
     if
     :: runs(least) -> wish = true
     :: else -> closed = false; turned_off = true
     fi
  :: else
  fi
}

active proctype room() {
  do
  :: atomic {
       pass(aft_delay);
       pass(fore_delay);
       pass(least);
       pass(waits_6);
       pass(waits_5);
       age(since_on);
       turned_off = false;
       nobody = !aft && !fore;
       if
       :: aft_delay = T;
          if
          :: !aft -> aft = true; waits_5 = IDLE; waits_6 = IDLE; call()
          :: else
          fi
       :: skip
       fi;
       if
       :: fore_delay = T;
          if
          :: !fore -> fore = true; waits_5 = IDLE; waits_6 = IDLE; call()
          :: else
          fi
       :: skip
       fi;
       if
       :: due(aft_delay) -> aft_delay = IDLE; aft = false; leave()
       :: else
       fi;
       if
       :: due(fore_delay) -> fore_delay = IDLE; fore = false; leave()
       :: else
       fi;
       if
       :: due(least) -> least = IDLE;
          if
          :: wish -> wish = false; closed = false; turned_off = true
          :: else
          fi
       :: else
       fi;
       if
       :: !aft && !fore && !nobody -> waits_6 = 6; waits_5 = 5
       :: else
       fi;
       if
       :: !closed -> waits_6 = IDLE; waits_5 = IDLE
       :: else
       fi;
#ifdef D1
       assert(!((aft || fore) && !closed));
#endif
#ifdef D2
       assert(!(turned_off && since_on <= 11));
#endif
#ifdef D3
       assert(!(turned_off && since_on <= 12));
#endif
#ifdef D4
       assert(waits_6 != 0);
#endif
#ifdef D5
       assert(waits_5 != 0);
#endif
     }
  od
}
