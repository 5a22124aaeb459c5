// Package killtest is for tests: it ends a program, as a power cut or kill -9 would, directly before the n-th system call by
// which it would change a folder. A test that goes through all n has been at every place where the program can be cut off,
// which kills at random moments are not.
package killtest
