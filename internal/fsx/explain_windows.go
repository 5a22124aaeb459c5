package fsx

import (
	"errors"
	"syscall"

	"golang.org/x/sys/windows"
)

// causes are the system's numbers that a person can do something about (winerror.h).
var causes = map[syscall.Errno]cause{
	windows.ERROR_DISK_FULL: causeFull, windows.ERROR_HANDLE_DISK_FULL: causeFull, windows.ERROR_DISK_QUOTA_EXCEEDED: causeFull,
	windows.ERROR_WRITE_PROTECT:     causeReadOnlyDisk,
	windows.ERROR_SHARING_VIOLATION: causeHeld, windows.ERROR_LOCK_VIOLATION: causeHeld, windows.ERROR_USER_MAPPED_FILE: causeHeld,
	windows.ERROR_BAD_NETPATH: causeNoAnswer, windows.ERROR_BAD_NET_NAME: causeNoAnswer, windows.ERROR_NETNAME_DELETED: causeNoAnswer,
	windows.ERROR_UNEXP_NET_ERR: causeNoAnswer, windows.ERROR_NETWORK_UNREACHABLE: causeNoAnswer, windows.ERROR_HOST_UNREACHABLE: causeNoAnswer,
	windows.ERROR_REM_NOT_LIST: causeNoAnswer, windows.ERROR_DEV_NOT_EXIST: causeNoAnswer, windows.ERROR_NETWORK_BUSY: causeNoAnswer,
	windows.ERROR_NOT_READY: causeNoAnswer, windows.ERROR_IO_DEVICE: causeNoAnswer, windows.ERROR_CRC: causeNoAnswer,
	windows.ERROR_SEM_TIMEOUT: causeNoAnswer, windows.ERROR_NO_NET_OR_BAD_PATH: causeNoAnswer, windows.ERROR_CONNECTION_UNAVAIL: causeNoAnswer,
	windows.ERROR_DEVICE_NOT_CONNECTED: causeNoAnswer, windows.ERROR_CLOUD_FILE_PROVIDER_NOT_RUNNING: causeNoAnswer,
	windows.ERROR_INVALID_NAME: causeName, windows.ERROR_FILENAME_EXCED_RANGE: causeName, windows.ERROR_BAD_PATHNAME: causeName,
	windows.ERROR_BUFFER_OVERFLOW: causeName, windows.ERROR_DIRECTORY: causeName,
}

func systemCause(err error) cause {
	var n syscall.Errno
	if errors.As(err, &n) {
		return causes[n]
	}
	return causeOther
}
