/* One sensor with both senses and a lamp (OCC-1 to OCC-12, OUT-4, OUT-8). */
#include "../ticks.pml"

#define T 6
#define W 12
#define G 2

bool occupied, window, lamp;
byte delay = IDLE, grace = IDLE, span = IDLE;
byte moved = LONG; /* ticks since the last motion; LONG: none yet */
bool by_sound, turned_off;

inline become_occupied() {
  occupied = true;
  by_sound = !lamp && heard;
  lamp = true
}

inline motion() {
  if
  :: !occupied -> become_occupied()
  :: else
  fi;
  window = true;
  delay = T;
  span = W;
  grace = IDLE;
  moved = 0
}

inline sound() {
  heard = true;
  if
  :: occupied && window -> delay = T
  :: !occupied && window && runs(grace) ->
     become_occupied();
     delay = T;
     grace = IDLE
  :: else
  fi;
  heard = false
}

inline timers() {
  if
  :: due(delay) ->
     delay = IDLE;
     occupied = false;
     grace = G;
     lamp = false;
     turned_off = true
  :: else
  fi;
  if
  :: due(grace) ->
     grace = IDLE;
     span = IDLE;
     window = false
  :: else
  fi;
  if
  :: due(span) ->
     span = IDLE;
     window = false;
     if
     :: !occupied -> grace = IDLE
     :: else
     fi
  :: else
  fi
}

active proctype room() {
  bool heard;
  do
  :: atomic {
       pass(delay);
       pass(grace);
       pass(span);
       age(moved);
       by_sound = false;
       turned_off = false;
       if
       :: motion()
       :: skip
       fi;
       if
       :: sound()
       :: skip
       fi;
       timers();
#ifdef S1
       assert(!(moved == 18 && lamp));
#endif
#ifdef S2
       assert(!(moved == 17 && lamp));
#endif
#ifdef S3
       assert(!by_sound);
#endif
#ifdef S4
       assert(!(turned_off && moved <= 5));
#endif
#ifdef S5
       assert(!(turned_off && moved <= 6));
#endif
     }
  od
}
