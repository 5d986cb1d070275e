//! What each form of clause means. (Being written.)
