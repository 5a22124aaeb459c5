package codec

/*
#cgo pkg-config: libheif libde265
#include "hevc.h"
*/
import "C"

import "sync"

// ownHEVC makes libheif decode HEVC by way of hevc.c, which refuses what libheif's own use of libde265 lets pass: pictures
// whose decoder complained, and pictures of which parts were never decoded.
var ownHEVC = sync.OnceValue(func() bool { return C.pt_hevc_register() == 0 })
