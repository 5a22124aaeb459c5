package fsx

import (
	"errors"
	"os"
	"time"
	"unsafe"

	"golang.org/x/sys/windows"
)

// A virus scanner or a search index opens each new file for a moment, and nothing can be renamed meanwhile. What is not
// let go within patience is held by a person's program. A refusal may come from such a moment too, when nobody has the file
// open any more by the time one looks: it is believed after doubt, and several tries.
const (
	patience   = 3 * time.Second
	doubt      = 500 * time.Millisecond
	doubtTries = 12
	firstPause = 5 * time.Millisecond
	longPause  = 200 * time.Millisecond
)

// replaceFile gives from the name to, in place of what has that name now. A file that another program holds open is waited
// for; one that is not let go stays as it is.
func replaceFile(from, to string) error {
	return waitFor(to, func() error {
		// As on other systems first: who has the old file open, and lets others delete it, keeps it.
		if err := renameOver(from, to); err == nil || isHeld(err) {
			return err
		}
		return move(from, to, windows.MOVEFILE_REPLACE_EXISTING|windows.MOVEFILE_WRITE_THROUGH)
	})
}

// nameNew gives from the name to. It fails where the name exists, in one step of the system.
func nameNew(from, to string) error {
	return waitFor(to, func() error { return move(from, to, windows.MOVEFILE_WRITE_THROUGH) })
}

// syncDir has nothing to do: Windows knows no sync of folders, and NTFS keeps a journal of names.
func syncDir(string) error { return nil }

// syncFile brings a finished file's content to the disk. Windows lets only those do that who may write in it.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, windows.ERROR_ACCESS_DENIED) {
		return nil // a file for reading only: whoever wrote it has brought it there, or the system will
	}
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// waitFor tries again while a file is held.
func waitFor(path string, try func() error) error {
	begun := time.Now()
	seenHeld := false
	for tries, pause := 1, firstPause; ; tries, pause = tries+1, min(2*pause, longPause) {
		err := try()
		if err == nil || errors.Is(err, os.ErrExist) {
			return err
		}
		waiting, refused := time.Since(begun), errors.Is(err, windows.ERROR_ACCESS_DENIED)
		if refused && isOpenElsewhere(path) {
			err = &os.PathError{Op: "replace", Path: path, Err: windows.ERROR_SHARING_VIOLATION}
		}
		seenHeld = seenHeld || isHeld(err)
		if waiting > patience || !seenHeld && (!refused || waiting > doubt && tries >= doubtTries) {
			return err
		}
		time.Sleep(pause)
	}
}

func isHeld(err error) bool {
	return errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_USER_MAPPED_FILE)
}

// isOpenElsewhere tells a file that another program has open from one that this user may not replace: a rename is answered
// the same for both.
func isOpenElsewhere(path string) bool {
	name, err := windows.UTF16PtrFromString(longPath(path))
	if err != nil {
		return false
	}
	h, err := windows.CreateFile(name, windows.GENERIC_READ|windows.DELETE, 0, nil, windows.OPEN_EXISTING, windows.FILE_FLAG_BACKUP_SEMANTICS, 0)
	if err == nil {
		windows.CloseHandle(h)
		return false
	}
	return isHeld(err)
}

func move(from, to string, flags uint32) error {
	a, err := windows.UTF16PtrFromString(longPath(from))
	if err != nil {
		return err
	}
	b, err := windows.UTF16PtrFromString(longPath(to))
	if err != nil {
		return err
	}
	if err := windows.MoveFileEx(a, b, flags); err != nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
	}
	return nil
}

// renameOver renames as POSIX has it, which Windows 10 and newer do on local disks (FILE_RENAME_INFORMATION_EX).
func renameOver(from, to string) error {
	name, err := windows.UTF16PtrFromString(longPath(from))
	if err != nil {
		return err
	}
	h, err := windows.CreateFile(name, windows.DELETE|windows.SYNCHRONIZE, windows.FILE_SHARE_READ|windows.FILE_SHARE_WRITE|windows.FILE_SHARE_DELETE, nil, windows.OPEN_EXISTING, windows.FILE_FLAG_OPEN_REPARSE_POINT, 0)
	if err != nil {
		return err
	}
	defer windows.CloseHandle(h)
	target, err := windows.UTF16FromString(longPath(to))
	if err != nil {
		return err
	}
	info := renameInfo{flags: windows.FILE_RENAME_REPLACE_IF_EXISTS | windows.FILE_RENAME_POSIX_SEMANTICS | windows.FILE_RENAME_IGNORE_READONLY_ATTRIBUTE, nameBytes: uint32(2 * (len(target) - 1))}
	head := int(unsafe.Offsetof(info.name))
	buf := make([]byte, head+2*len(target))
	copy(buf, unsafe.Slice((*byte)(unsafe.Pointer(&info)), head))
	copy(buf[head:], unsafe.Slice((*byte)(unsafe.Pointer(&target[0])), 2*len(target)))
	if err := windows.SetFileInformationByHandle(h, windows.FileRenameInfoEx, &buf[0], uint32(len(buf))); err != nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
	}
	return nil
}

// renameInfo is FILE_RENAME_INFO (winbase.h) on 64 bit; the name goes on behind it.
type renameInfo struct {
	flags     uint32
	_         uint32
	root      windows.Handle
	nameBytes uint32
	name      [1]uint16
}
