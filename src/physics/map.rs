//! Compressor maps.
