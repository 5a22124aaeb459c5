#!/usr/bin/env bash
# Builds the libraries of the Windows program as static archives into the cache: each once, and again only where its source,
# its recipe below, the compiler, or a library that it rests on has changed. The recipes follow Debian's debian/rules where
# those bear on numbers: the same vector code (OpenCV's baseline SSE2, then what the processor has), optimised alike.
#   scripts/windows/libraries.sh [PACKAGE...]    (default: all, in order)
set -euo pipefail
only=" $* "
cd "$(dirname "$0")/../.."
. scripts/windows/common.sh
export PREFIX=$prefix
mkdir -p "$prefix/built" "$cache/build" "$cache/log"
# One build at a time; another checkout's may be at it.
exec 9>"$cache/lock"
flock -n 9 || { say "another build is using $cache: waiting for it"; flock 9; }
# A build that goes on later, perhaps from another checkout, must find it where it was.
toolchain=$cache/toolchain.cmake
cmp -s scripts/windows/toolchain.cmake "$toolchain" || cp scripts/windows/toolchain.cmake "$toolchain"

# GCC keeps Windows' stacks aligned to 16 bytes only, where AVX wants 32 (its bug 54412): the assembler is told to write
# moves that do not care.
flags="-O2 -Wa,-muse-unaligned-vector-move"

# cmake_build PACKAGE SOURCE ARGUMENT...: configures, builds and installs.
cmake_build() {
	local package=$1 source=$2
	shift 2
	cmake -G Ninja -S "$source" -B "$cache/build/$package" -DCMAKE_TOOLCHAIN_FILE="$toolchain" -DCMAKE_INSTALL_PREFIX="$prefix" \
		-DCMAKE_INSTALL_LIBDIR=lib -DCMAKE_PREFIX_PATH="$prefix" -DCMAKE_BUILD_TYPE=Release -DBUILD_SHARED_LIBS=OFF \
		-DCMAKE_C_FLAGS_RELEASE="$flags -DNDEBUG" -DCMAKE_CXX_FLAGS_RELEASE="$flags -DNDEBUG" "$@"
	ninja -j "$jobs" -C "$cache/build/$package" install
}

# archive NAME FLAG... -- FILE...: a static library of plain C files, made and installed.
archive() {
	local name=$1 own=() file
	shift
	while [ "$1" != -- ]; do own+=("$1"); shift; done
	shift
	mkdir -p "$work" "$prefix/lib"
	for file; do $target-gcc-posix $flags -DNDEBUG "${own[@]}" -c "$file" -o "$work/$(basename "$file" .c).o"; done
	rm -f "$prefix/lib/$name"
	$target-gcc-ar-posix rcs "$prefix/lib/$name" "$work"/*.o
}

# Debian's source holds no makefile for Windows.
build_zlib() {
	archive libz.a -O3 -DUNALIGNED_OK -- "$source"/*.c
	install -D -m 644 -t "$prefix/include" "$source"/{zlib,zconf}.h
}

build_libjpeg_turbo() {
	# Its own reading of the folder's name takes a relative one from where it is called.
	cmake_build "$package" "$source" -DCMAKE_INSTALL_LIBDIR="$prefix/lib" -DENABLE_SHARED=OFF -DWITH_TURBOJPEG=OFF -DWITH_SIMD=1 -DREQUIRE_SIMD=1
}

build_libwebp() {
	cmake_build "$package" "$source" -DWEBP_BUILD_{ANIM_UTILS,CWEBP,DWEBP,GIF2WEBP,IMG2WEBP,VWEBP,WEBPINFO,WEBPMUX,EXTRAS}=OFF \
		-DWEBP_BUILD_LIBWEBPMUX=OFF
}

build_libde265() {
	cmake_build "$package" "$source" -DENABLE_SDL=OFF -DENABLE_DECODER=OFF -DENABLE_ENCODER=OFF -DLIBDE265_STATIC_BUILD=ON \
		-DCMAKE_CXX_FLAGS=-DLIBDE265_STATIC_BUILD
}

build_libheif() {
	cmake_build "$package" "$source" -DENABLE_PLUGIN_LOADING=OFF -DWITH_LIBDE265=ON -DWITH_LIBDE265_PLUGIN=OFF \
		-DWITH_{X265,AOM_DECODER,AOM_ENCODER,DAV1D,RAV1E,SvtEnc,EXAMPLES,FUZZERS,REDUCED_VISIBILITY}=OFF \
		-DWITH_DEFLATE_HEADER_COMPRESSION=ON -DBUILD_TESTING=OFF \
		-DCMAKE_CXX_FLAGS="-DLIBHEIF_STATIC_BUILD -DLIBDE265_STATIC_BUILD"
}

build_lcms2() {
	archive liblcms2.a '-DCMS_PTR_ALIGNMENT=_Alignof(double)' -I"$source/include" -- "$source"/src/*.c
	install -D -m 644 -t "$prefix/include" "$source"/include/lcms2{,_plugin}.h
}

# Only the library: protoc is the machine's own, of the same version.
build_protobuf() {
	cmake_build "$package" "$source" -Dprotobuf_BUILD_{TESTS,EXAMPLES,PROTOC_BINARIES,LIBPROTOC,SHARED_LIBS}=OFF -Dprotobuf_WITH_ZLIB=OFF
}

# The modules that the program uses, and those that they rest on.
build_opencv() {
	local modules=core,imgproc,imgcodecs,flann,features2d,calib3d,dnn,aruco
	cmake_build "$package" "$source" -DBUILD_LIST=$modules -DOPENCV_EXTRA_MODULES_PATH="$source/contrib/modules" -DOPENCV_DLLVERSION= \
		-DCPU_BASELINE=SSE2 -DCPU_BASELINE_DISABLE=SSE3 -DENABLE_PRECOMPILED_HEADERS=OFF -DBUILD_INFO_SKIP_TIMESTAMP=ON \
		-DBUILD_{TESTS,PERF_TESTS,EXAMPLES,DOCS,JAVA,opencv_apps,opencv_python2,opencv_python3,opencv_java,opencv_js,opencv_gapi,opencv_ts}=OFF \
		-DBUILD_{ZLIB,JPEG,PROTOBUF,ITT,IPP_IW}=OFF -DWITH_PROTOBUF=ON -DPROTOBUF_UPDATE_FILES=ON \
		-DWITH_JPEG=ON -DJPEG_INCLUDE_DIR="$prefix/include" -DJPEG_LIBRARY="$prefix/lib/libjpeg.a" \
		-DZLIB_INCLUDE_DIR="$prefix/include" -DZLIB_LIBRARY="$prefix/lib/libz.a" \
		-DProtobuf_INCLUDE_DIR="$prefix/include" -DProtobuf_LIBRARY="$prefix/lib/libprotobuf.a" -DProtobuf_PROTOC_EXECUTABLE=/usr/bin/protoc \
		-DWITH_PTHREADS_PF=ON -DCV_TRACE=OFF -DOPENCV_DOWNLOAD_TRIES_LIST= \
		-DWITH_{IPP,ITT,ADE,CUDA,EIGEN,LAPACK,OPENCL,OPENGL,QT,GTK,VTK,WIN32UI,TBB,OPENMP,QUIRC,NGRAPH,VULKAN}=OFF \
		-DWITH_{FFMPEG,GSTREAMER,DSHOW,MSMF,DIRECTX,GDAL,GDCM,JASPER,OPENJPEG,OPENEXR,PNG,TIFF,WEBP,IMGCODEC_HDR,IMGCODEC_SUNRASTER,IMGCODEC_PXM,IMGCODEC_PFM}=OFF
	# Where the archives lie differs from other systems.
	find "$prefix" -path "$prefix/lib" -prune -o -name 'libopencv_*.a' -exec mv {} "$prefix/lib/" \;
}

# key PACKAGE NEEDED...: what the built library follows from.
key() {
	local name=$1
	shift
	{
		echo "$flags"
		$target-g++-posix --version | head -1
		files_of "$name"
		declare -f cmake_build archive "build_${name//-/_}"
		cat "$toolchain"
		for needed; do cat "$prefix/built/$needed"; done
	} | sha256sum
}

# library PACKAGE NEEDED...
library() {
	local package=$1 source=$cache/source/$1 work=$cache/build/$1 began=$SECONDS
	[[ $only = "  " || $only = *" $package "* ]] || return 0
	local is
	is=$(key "$@")
	if [ "$(cat "$prefix/built/$package" 2>/dev/null)" = "$is" ]; then return; fi
	# What was cut off goes on where it stopped.
	[ "$(cat "$work.is" 2>/dev/null)" = "$is" ] || rm -rf "$work"
	echo "$is" >"$work.is"
	say "building $package"
	set +e # so that the recipe itself stops at its first fault: a condition would switch that off
	(set -e; "build_${package//-/_}") >"$cache/log/$package.log" 2>&1
	local failed=$?
	set -e
	if [ $failed -ne 0 ]; then
		tail -n 40 "$cache/log/$package.log"
		stop "$package could not be built; all of it: $cache/log/$package.log"
	fi
	echo "$is" >"$prefix/built/$package"
	rm -rf "$work" "$work.is"
	say "built $package in $((SECONDS - began)) s"
}

library zlib
library libjpeg-turbo
library libwebp
library libde265
library libheif libde265 zlib
library lcms2
library protobuf
library opencv libjpeg-turbo protobuf zlib
