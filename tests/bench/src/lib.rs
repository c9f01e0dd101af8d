//! Benches only; see `benches/`.
