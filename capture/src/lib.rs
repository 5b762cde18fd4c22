//! Sound and photos in: any container to 16 kHz samples, any photo to upright pixels, time and place told by the file.
