#ifndef PT_HEVC_H
#define PT_HEVC_H

// Tells libheif to decode HEVC with this decoder; 0 when done.
int pt_hevc_register(void);

#endif
