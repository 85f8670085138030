//! Frames, signs and handedness: this page owns them, every other module refers to it.
